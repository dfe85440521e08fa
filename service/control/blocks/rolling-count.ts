/** Instants less than `windowMs` old, oldest first. The same array if none has aged out. */
export function withinWindow(
  atMs: readonly number[],
  windowMs: number,
  nowMs: number,
): readonly number[] {
  const oldest = atMs[0];
  if (oldest === undefined || nowMs - oldest < windowMs) return atMs;
  return atMs.filter((instantMs) => nowMs - instantMs < windowMs);
}

/** Time until one more instant fits under `limit`. [ms] ≥ 0 */
export function windowRemainingMs(
  atMs: readonly number[],
  input: { readonly limit: number; readonly windowMs: number; readonly nowMs: number },
): number {
  // Engines take their slowest way past a list's end.
  const blocking = atMs.length < input.limit ? undefined : atMs[atMs.length - input.limit];
  if (blocking === undefined) return 0;
  return Math.max(0, input.windowMs - (input.nowMs - blocking));
}
