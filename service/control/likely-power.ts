/**
 * What a load draws, out of the steps that its starts and stops made in the inverter's power.
 *
 * Somebody's kettle, or a freezer by itself, may switch in the very seconds in which a load does,
 * and its power is then part of the step. A mean takes a share of that over, run after run; the
 * middle one of the last steps takes nothing, while fewer than half of them are spoilt.
 *
 * In doubt it is the larger power. Allotted too much, a load waits for power that it does not need;
 * allotted too little, it starts on power that is not there.
 */
import { numberAt } from "./item-at.ts";

/** Of three runs and a half: three spoilt steps among them do no harm. Ours, no source. */
const STEPS_KEPT = 7;
/** Less than the rating is believed when so many say the same: they are of two runs at least. */
const AGREEING_MIN = 3;
/** "The same", as a share of the rated power. */
const AGREE_FRACTION = 0.1;

/** The last steps, oldest first, with one more. [W] AC */
export function withStep(stepsW: readonly number[], stepW: number): readonly number[] {
  return [...stepsW.slice(1 - STEPS_KEPT), stepW];
}

/**
 * @param stepsW - At least one. [W] AC > 0
 * @param ratedW - By the settings. [W] AC > 0
 * @returns The power that the steps speak for. [W] AC
 * @check test/control/likely-power.property.test.ts
 */
export function likelyPowerW(stepsW: readonly number[], ratedW: number): number {
  const sortedW = stepsW.toSorted((one, other) => one - other);
  // Of an even number the upper one of the two in the middle.
  const middleW = numberAt(sortedW, Math.floor(sortedW.length / 2));
  if (middleW >= ratedW) return middleW;
  const agreeing = stepsW.filter((stepW) => Math.abs(stepW - middleW) <= AGREE_FRACTION * ratedW);
  return agreeing.length >= AGREEING_MIN ? middleW : ratedW;
}
