/** What arrays that are held back could give together, by the sky that they share. */
import { heldClearness } from "./held-clearness.ts";
import type { ClearnessRange, HeldClearness } from "./held-clearness.ts";
import { itemAt } from "./item-at.ts";

/** More than this against the model is the model's fault. [1] */
const GIVEN_MAX = 1.3;

/** An array that is held back, at one tick. [W] */
export interface HeldArray {
  readonly measuredW: number;
  readonly limitW: number;
  readonly peakW: number;
  /** Under a clear sky, by what was learned of it. > 0 */
  readonly expectedW: number;
  /** On the low end. [1] 0…1 */
  readonly lowFactor: number;
}

/** [W] ≥ 0 */
export interface HeldPower {
  readonly lowW: number;
  readonly startW: number;
  readonly middleW: number;
  readonly highW: number;
}

/** How clear it was when that could last be seen. */
export type SeenSky = Pick<HeldClearness, "clearness" | "forMs">;

/**
 * Never below what is measured, nor above what an array's controller lets through.
 *
 * @param bySensor - What a light sensor says; null: none, or it is in doubt.
 */
export function heldPower(
  arrays: readonly HeldArray[],
  seen: SeenSky,
  bySensor: ClearnessRange | null,
): HeldPower {
  const range = bySensor ?? rangeNow(arrays, seen);
  const { low, start, middle, high, abovePeakFraction } = range;
  const sums = { lowW: 0, startW: 0, middleW: 0, highW: 0 };
  for (let index = 0; index < arrays.length; index += 1) {
    const array = itemAt(arrays, index);
    const { peakW, expectedW, lowFactor } = array;
    sums.lowW += within(array, expectedW * low * lowFactor);
    sums.startW += within(array, expectedW * start);
    sums.middleW += within(array, expectedW * middle);
    sums.highW += within(array, expectedW * high + abovePeakFraction * peakW);
  }
  return sums;
}

function within({ measuredW, limitW }: HeldArray, powerW: number): number {
  return Math.max(measuredW, Math.min(limitW, powerW));
}

function rangeNow(arrays: readonly HeldArray[], { clearness, forMs }: SeenSky): ClearnessRange {
  let givenW = 0;
  let expectedW = 0;
  for (let index = 0; index < arrays.length; index += 1) {
    const array = itemAt(arrays, index);
    givenW += array.measuredW;
    expectedW += array.expectedW;
  }
  const givenFraction = Math.min(GIVEN_MAX, givenW / expectedW);
  return heldClearness({ clearness, forMs, givenFraction });
}
