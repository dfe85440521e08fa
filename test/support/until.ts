/**
 * Waits for what no event announces, and fails rather than wait for ever. The limit is no claim: a
 * machine that has much else to do reaches it as little as an idle one.
 */
export async function until(holds: () => boolean, limitMs = 120_000): Promise<void> {
  const endMs = performance.now() + limitMs;
  while (!holds()) {
    if (performance.now() > endMs) throw new Error(`not within ${limitMs} ms: ${holds.toString()}`);
    await new Promise((resolve) => setTimeout(resolve, 10));
  }
}
