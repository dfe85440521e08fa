import { numberOrNullAt } from "./item-at.ts";

/** What is told of the own thermostat of a load that is on and has no meter. */
export interface ThermostatMemory {
  readonly drawing: "draws" | "rests" | "unknown";
  /** Since when it rests, as far as was seen; null: it does not. */
  readonly restsSinceMs: number | null;
  /** What the inverter gave to all that has no meter when that last stood still. [W] AC */
  readonly levelW: number | null;
  /** When something else of its size came on; null: not seen, or gone again. */
  readonly otherAtMs: number | null;
}

export const THERMOSTAT_UNSEEN: ThermostatMemory = {
  drawing: "unknown",
  restsSinceMs: null,
  levelW: null,
  otherAtMs: null,
};

/** What a load was seen to draw. The same object from tick to tick while nothing new is seen. */
export interface DrawMemory {
  /** Learned AC power of each stage; null: not seen yet. [W] */
  readonly learnedW: readonly (number | null)[];
  /** The last steps that starts and stops of each stage made, oldest first; by no meter. [W] */
  readonly stepsW: readonly (readonly number[])[];
  /** Stage that it runs at or, off, ran at last; 0: not since the core started. */
  readonly ofStage: number;
  /** Inverter's AC power before it was switched last; null: not known, or of no more use. [W] */
  readonly powerBeforeW: number | null;
  /** Since when it is on and draws nothing. */
  readonly idleSinceMs: number | null;
  /** Times in a row that it was given up for drawing nothing. */
  readonly idleTimes: number;
  readonly thermostat: ThermostatMemory;
}

/** Of a load that was never seen. */
export function nothingDrawn(stageCount: number): DrawMemory {
  return {
    learnedW: new Array<number | null>(stageCount).fill(null),
    stepsW: new Array<readonly number[]>(stageCount).fill([]),
    ofStage: 0,
    powerBeforeW: null,
    idleSinceMs: null,
    idleTimes: 0,
    thermostat: THERMOSTAT_UNSEEN,
  };
}

/** It has been seen to draw what one of its stages draws. */
export function hasDrawn({ learnedW }: DrawMemory): boolean {
  for (let place = 0; place < learnedW.length; place += 1) {
    if (numberOrNullAt(learnedW, place) !== null) return true;
  }
  return false;
}
