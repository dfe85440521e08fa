/** The browser's clock and timers; nothing else of the dashboard reads the time. */

/** Since the page was opened; never goes back. [ms] */
export function monotonicMs(): number {
  return performance.now();
}

/** @returns Takes the call back. */
export function after(waitMs: number, call: () => void): () => void {
  const timer = setTimeout(call, waitMs);
  return () => clearTimeout(timer);
}

/** @returns Ends it. */
export function every(periodMs: number, call: () => void): () => void {
  const timer = setInterval(call, periodMs);
  return () => clearInterval(timer);
}
