/**
 * How many requests one sender may make: a bucket of tokens that fills at a steady rate. Memory is
 * bounded: past so many senders, whoever was silent longest is forgotten, with a full bucket.
 */
export interface RateLimit {
  /** @returns 0 if the request may pass, else how long to wait. [s] */
  readonly waitS: (sender: string) => number;
}

export interface Rate {
  readonly burst: number;
  readonly perSecond: number;
}

/** Of requests of any kind. */
export const REQUESTS: Rate = { burst: 400, perSecond: 50 };
/** Of tries to sign in: the token is far too long to guess, and nobody types it twice a minute. */
export const SIGN_INS: Rate = { burst: 5, perSecond: 1 / 30 };
export const SIGN_INS_OF_ALL: Rate = { burst: 50, perSecond: 1 / 6 };
const SENDERS_MAX = 1_000;
const MS_PER_SECOND = 1_000;

interface Bucket {
  readonly tokens: number;
  readonly atMs: number;
}

export function createRateLimit(nowMs: () => number, { burst, perSecond }: Rate): RateLimit {
  // In the order of the last request: the first is the one that was silent longest.
  const buckets = new Map<string, Bucket>();
  return {
    waitS(sender) {
      const atMs = nowMs();
      const before = buckets.get(sender) ?? { tokens: burst, atMs };
      const gained = ((atMs - before.atMs) / MS_PER_SECOND) * perSecond;
      const tokens = Math.min(burst, before.tokens + gained);
      const mayPass = tokens >= 1;
      buckets.delete(sender);
      buckets.set(sender, { tokens: mayPass ? tokens - 1 : tokens, atMs });
      const [silent] = buckets.keys();
      if (buckets.size > SENDERS_MAX && silent !== undefined) buckets.delete(silent);
      return mayPass ? 0 : Math.ceil((1 - tokens) / perSecond);
    },
  };
}
