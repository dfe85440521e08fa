/** Time as the shell sees it. This is the only file of the service that asks the machine for it. */
export interface Clock {
  /** Never goes back. [ms] */
  monotonicMs(): number;
  /** Milliseconds since 1970-01-01T00:00:00Z; may jump. */
  wallMs(): number;
  /** Calls back once after `delayMs` of this clock; the returned function cancels. */
  schedule(delayMs: number, callback: () => void): () => void;
}

export const systemClock: Clock = {
  monotonicMs: () => performance.now(),
  wallMs: () => Date.now(),
  schedule(delayMs, callback) {
    const timer = setTimeout(callback, delayMs);
    return () => clearTimeout(timer);
  },
};
