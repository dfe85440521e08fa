/**
 * What the clearness may be now, while it cannot be seen.
 *
 * Three things tell. A sky that fills a battery is a bright one, so the middle is never far from a
 * clear sky, however dull it was when it was last seen: that was more often a shadow than the sun.
 * How clear it was then says how far below that it may be, the less so the longer ago. And what the
 * held-back arrays give now they could give in any case; the more that is, the brighter it is, and
 * the nearer to the middle the truth will lie.
 */

/** The range is at its widest after this. [ms] */
const WIDEST_AFTER_MS = 3 * 3_600_000;
/** Duller than this when last seen, it was a shadow that was seen; from 1 on, a clear sky. [1] */
const SHADOW_BELOW = 0.7;
/** Brighter than a clear sky is mostly the rim of a cloud: only this much of it lasts. [1] */
const RIM_LASTS = 0.6;
const BRIGHTEST = 1.1;

interface Nearer {
  readonly always: number;
  readonly byGiven: number;
  readonly byBright: number;
}

/** How a quantile of the clearness follows from what tells of it. [1] */
interface Quantile {
  /** After a shadow, whatever was seen of it. */
  readonly afterShadow: number;
  /** What a clear sky may have lost when the range is at its widest. */
  readonly lostAtLast: number;
  /** Share of the way from what is given to the middle: always, and by what tells of it. */
  readonly nearer: Nearer;
}

/**
 * Fitted by quantile regression to simulated sheds with the minutes of Lyngby's summer of 2016,
 * with typical years of Denver and of 45° N, 8° E, and to simulated weeks other than those of
 * docs/potential.md, each with as much weight. Ours, no other source.
 */
const MIDDLE_MIN = 0.92;
/** The truth lies lower in one case of ten… */
const LOW: Quantile = {
  afterShadow: 0.28,
  lostAtLast: 0.39,
  nearer: { always: 0.01, byGiven: 0.46, byBright: 0.48 },
};
/** …and lower in three of ten. */
const START: Quantile = {
  afterShadow: 0.46,
  lostAtLast: 0.08,
  nearer: { always: -0.27, byGiven: 1.76, byBright: 0.79 },
};
const NEARER_MAX = 0.95;
/**
 * The truth lies higher by more than this share of the arrays' peak in one case of ten: at once,
 * and how much less that is in the end. With a low sun it is much against what is expected.
 */
const ABOVE = 0.116;
const LESS_ABOVE_AT_LAST = 0.047;

/** [1] ≥ 0 */
export interface ClearnessRange {
  readonly low: number;
  /** What a load may be started on, since it has to prove itself: in `low`…`middle`. */
  readonly start: number;
  readonly middle: number;
  readonly high: number;
  /** The high end lies this much above that, as a share of the arrays' peak. */
  readonly abovePeakFraction: number;
}

export interface HeldClearness {
  /** When last seen. [1] ≥ 0 */
  readonly clearness: number;
  /** How long ago that is. [ms] */
  readonly forMs: number;
  /** What the held-back arrays give now, against what they would under a clear sky. [1] ≥ 0 */
  readonly givenFraction: number;
}

/** @check docs/potential.md */
export function heldClearness(held: HeldClearness): ClearnessRange {
  const { clearness, forMs } = held;
  const middle = clearness < 1 ? Math.max(MIDDLE_MIN, clearness) : 1 + RIM_LASTS * (clearness - 1);
  const widened = Math.min(1, Math.max(0, forMs / WIDEST_AFTER_MS));
  const low = Math.min(middle, quantile(LOW, held, { middle, widened }));
  const start = Math.min(middle, quantile(START, held, { middle, widened }));
  const abovePeakFraction = ABOVE - LESS_ABOVE_AT_LAST * widened;
  return { low, start: Math.max(low, start), middle, high: middle, abovePeakFraction };
}

function quantile(
  { afterShadow, lostAtLast, nearer }: Quantile,
  { clearness, givenFraction }: HeldClearness,
  { middle, widened }: { readonly middle: number; readonly widened: number },
): number {
  const brightness = Math.min(1, Math.max(0, (clearness - SHADOW_BELOW) / (1 - SHADOW_BELOW)));
  const clear = Math.min(BRIGHTEST, clearness) - lostAtLast * widened;
  const bySeen = afterShadow + brightness * (clear - afterShadow);
  const share = nearer.always + nearer.byGiven * givenFraction + nearer.byBright * brightness;
  const bounded = Math.min(NEARER_MAX, Math.max(0, share));
  return Math.max(bySeen, givenFraction + bounded * Math.max(0, middle - givenFraction));
}
