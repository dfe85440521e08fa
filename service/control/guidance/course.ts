/**
 * The course of the battery with and without an appliance. Opportunity loads take what the battery
 * refuses, and by day what lies above the curve that they go by; whoever starts an appliance takes
 * it from them first.
 */
import { numberAt } from "../item-at.ts";
import { acceptedW } from "../outlook/acceptance-table.ts";
import type { CurveBattery } from "../outlook/curve.ts";
import { STEP_H } from "./prospect.ts";
import type { Prospect, Side } from "./prospect.ts";

/** Near full an LFP battery takes less within minutes: a step is gone through in halves. */
const HALVES = 2;
/** Under this no chemistry tapers yet. [1] */
const TAPER_FROM_FRACTION = 0.78;

/** Carried on in place, since there are thousands of courses to try. */
export interface CourseState {
  /** [1] 0…1 */
  socFraction: number;
  /** What the loads still want. [Wh] ≥ 0; Infinity: all there is */
  wantWh: number;
  /** What they have had. [Wh] ≥ 0 */
  loadsWh: number;
}

/** The state at the beginning of each step and at the end of the last, without any appliance. */
export interface Course {
  readonly socFraction: readonly number[];
  readonly wantWh: readonly number[];
  readonly loadsWh: readonly number[];
}

export function courseWithout(socFraction: number, side: Side, prospect: Prospect): Course {
  const state: CourseState = { socFraction, wantWh: prospect.loadsWantWh, loadsWh: 0 };
  const course = { socFraction: [socFraction], wantWh: [state.wantWh], loadsWh: [0] };
  for (let step = 0; step < side.netW.length; step += 1) {
    advance(state, { step, powerW: 0 }, { side, prospect });
    course.socFraction.push(state.socFraction);
    course.wantWh.push(state.wantWh);
    course.loadsWh.push(state.loadsWh);
  }
  return course;
}

/** What of the sides and the prospect a course goes by. */
export interface CourseFrame {
  readonly side: Pick<Side, "netW" | "loadsDownTo">;
  readonly prospect: Pick<Prospect, "battery" | "isDay" | "tomorrowStep" | "loadsW">;
}

/** @param now.powerW - What the appliance draws from the battery bus. [W] ≥ 0 */
export function advance(
  state: CourseState,
  now: { readonly step: number; readonly powerW: number },
  { side, prospect }: CourseFrame,
): void {
  const { step } = now;
  const { battery, loadsW, tomorrowStep } = prospect;
  if (step === tomorrowStep) state.wantWh = Infinity;
  const isTomorrow = tomorrowStep >= 0 && step >= tomorrowStep;
  const netW = numberAt(side.netW, step) - now.powerW;
  const refusedW = charge(state, netW, battery);
  const mostW = Math.min(isTomorrow ? loadsW.tomorrow : loadsW.today, state.wantWh / STEP_H);
  let takenW = Math.min(mostW, refusedW);
  if (prospect.isDay[step] === true) {
    const above = Math.max(0, state.socFraction - numberAt(side.loadsDownTo, step + 1));
    const drawnW = Math.min(mostW - takenW, (above * battery.capacityWh) / STEP_H);
    state.socFraction -= (drawnW * STEP_H) / battery.capacityWh;
    takenW += drawnW;
  }
  state.loadsWh += takenW * STEP_H;
  state.wantWh -= takenW * STEP_H;
}

/** @returns What the battery refuses of it. [W] ≥ 0 */
function charge(state: CourseState, netW: number, battery: CurveBattery): number {
  const perW = STEP_H / battery.capacityWh;
  if (netW <= 0) {
    state.socFraction = Math.max(
      0,
      state.socFraction + (netW * perW) / battery.dischargeEfficiency,
    );
    return 0;
  }
  // Far from full it takes whatever its limit lets through, all step long.
  if (state.socFraction + netW * perW < TAPER_FROM_FRACTION) {
    const takenW = Math.min(netW, acceptedW(battery.acceptance, state.socFraction));
    const storedShare = battery.voltageShare * battery.storedShare(state.socFraction);
    state.socFraction += takenW * perW * storedShare;
    return netW - takenW;
  }
  let refusedW = 0;
  for (let half = 0; half < HALVES; half += 1) {
    const { socFraction } = state;
    const storedShare = battery.voltageShare * battery.storedShare(socFraction);
    const fitsW = ((1 - socFraction) * HALVES) / (perW * storedShare);
    const takenW = Math.min(netW, acceptedW(battery.acceptance, socFraction), fitsW);
    state.socFraction = Math.min(1, socFraction + (takenW * perW * storedShare) / HALVES);
    refusedW += (netW - takenW) / HALVES;
  }
  return refusedW;
}
