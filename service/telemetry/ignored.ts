/** Why a message, or one value of it, was not used: stable words, and how often each came. */

const REASONS = [
  "unmapped-topic",
  "other-topic",
  "too-large",
  "not-utf8",
  "not-json",
  "too-deep",
  "no-field",
  "wrong-type",
  "not-finite",
  "unknown-word",
  "bad-stamp",
  "stamp-ahead",
  "out-of-order",
  "retained",
  "out-of-range",
  "too-fast",
] as const;

/**
 * - `unmapped-topic`: nothing reads this topic.
 * - `other-topic`: a wildcard matches it, but another topic is being read.
 * - `bad-stamp`, `stamp-ahead`, `out-of-order`: the publisher's time is missing or unreadable, in
 *   the future, or before that of a message already seen.
 * - `retained`: the broker had kept it, and something better is known.
 * - `out-of-range`, `too-fast`: readable, but not to be believed.
 */
export type IgnoredReason = (typeof REASONS)[number];

export type IgnoredCounts = Record<IgnoredReason, number>;

export function zeroCounts(): IgnoredCounts {
  return {
    "unmapped-topic": 0,
    "other-topic": 0,
    "too-large": 0,
    "not-utf8": 0,
    "not-json": 0,
    "too-deep": 0,
    "no-field": 0,
    "wrong-type": 0,
    "not-finite": 0,
    "unknown-word": 0,
    "bad-stamp": 0,
    "stamp-ahead": 0,
    "out-of-order": 0,
    retained: 0,
    "out-of-range": 0,
    "too-fast": 0,
  };
}

/** Those that have come at all. */
export function countsThatRose(counts: IgnoredCounts): Partial<IgnoredCounts> {
  const risen: Partial<IgnoredCounts> = {};
  for (const reason of REASONS) if (counts[reason] > 0) risen[reason] = counts[reason];
  return risen;
}

export function sumOfCounts(counts: IgnoredCounts): number {
  return REASONS.reduce((sum, reason) => sum + counts[reason], 0);
}
