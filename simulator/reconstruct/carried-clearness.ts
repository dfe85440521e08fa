/**
 * What the clearness may have been, by one side alone: carried on from where it was seen.
 *
 * The problem: an array is held back when the sun comes out, so what was seen beside that was more
 * often the shadow than the sun. The middle of the range is therefore drawn from the held value
 * towards a usual clear sky, the more so the less steady it was. With time the range widens.
 */

/** Of a sky that fills a battery. [1] */
const USUAL = 0.98;
/** The range is at its widest after this. [ms] */
const WIDEST_AFTER_MS = 3 * 3_600_000;
/** Five-minute stretches that tell whether the sky was steady. */
export const PAST_LENGTH = 5;
const BROKEN_ABOVE = 0.06;
const BRIGHT_ABOVE = 0.75;

interface SkyKind {
  /** Share of the way to `USUAL` that the middle goes. */
  readonly drawn: number;
  /** Low end against the held value: at once, and at the widest. */
  readonly lowAtOnce: number;
  readonly lowAtLast: number;
  /** High end above the middle. */
  readonly above: number;
}

/** Fitted to simulated weeks other than those of the tests. Ours, no other source. */
const BRIGHT: SkyKind = { drawn: 0.7, lowAtOnce: 0.98, lowAtLast: 0.92, above: 0.06 };
const DULL: SkyKind = { drawn: 0.85, lowAtOnce: 1.2, lowAtLast: 1.1, above: 0.11 };
const BROKEN: SkyKind = { drawn: 0.85, lowAtOnce: 1, lowAtLast: 1, above: 0.14 };

/** [1] ≥ 0 */
export interface ClearnessRange {
  readonly low: number;
  readonly middle: number;
  readonly high: number;
}

export function carriedClearness(
  { past }: { readonly past: readonly (number | null)[] },
  held: { readonly clearness: number; readonly forMs: number },
): ClearnessRange {
  const { clearness } = held;
  const kind = kindOfSky(clearness, past);
  const widened = Math.min(1, Math.max(0, held.forMs / WIDEST_AFTER_MS));
  const middle = clearness + kind.drawn * Math.max(0, USUAL - clearness);
  const low = clearness * (kind.lowAtOnce + widened * (kind.lowAtLast - kind.lowAtOnce));
  return { low: Math.min(low, middle), middle, high: middle + kind.above };
}

function kindOfSky(newest: number, past: readonly (number | null)[]): SkyKind {
  let changes = 0;
  let sum = newest;
  let count = 1;
  let newer = newest;
  for (const clearness of past) {
    if (clearness === null) break;
    changes += Math.abs(newer - clearness);
    sum += clearness;
    count += 1;
    newer = clearness;
  }
  // Of a single sight nobody knows whether it is steady.
  if (count < 2 || changes / (count - 1) > BROKEN_ABOVE) return BROKEN;
  return sum / count > BRIGHT_ABOVE ? BRIGHT : DULL;
}
