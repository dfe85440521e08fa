/**
 * How many requests one sender may make: a bucket of tokens that fills at a steady rate. Memory is
 * bounded: past so many senders, whoever was silent longest is forgotten, with a full bucket.
 */
export interface RateLimit {
  /** @returns 0 if the request may pass, else how long to wait. [s] */
  readonly waitS: (sender: string) => number;
}

export const BURST = 400;
export const PER_SECOND = 50;
const SENDERS_MAX = 1_000;
const MS_PER_SECOND = 1_000;

interface Bucket {
  readonly tokens: number;
  readonly atMs: number;
}

export function createRateLimit(nowMs: () => number): RateLimit {
  // In the order of the last request: the first is the one that was silent longest.
  const buckets = new Map<string, Bucket>();
  return {
    waitS(sender) {
      const atMs = nowMs();
      const before = buckets.get(sender) ?? { tokens: BURST, atMs };
      const gained = ((atMs - before.atMs) / MS_PER_SECOND) * PER_SECOND;
      const tokens = Math.min(BURST, before.tokens + gained);
      const mayPass = tokens >= 1;
      buckets.delete(sender);
      buckets.set(sender, { tokens: mayPass ? tokens - 1 : tokens, atMs });
      const [silent] = buckets.keys();
      if (buckets.size > SENDERS_MAX && silent !== undefined) buckets.delete(silent);
      return mayPass ? 0 : Math.ceil((1 - tokens) / PER_SECOND);
    },
  };
}
