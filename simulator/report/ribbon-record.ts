/** What the ribbon of each day is drawn from: means over ten minutes, gathered step by step. */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { OutcomeStep } from "../outcome.ts";

export const SLOT_MINUTES = 10;
const SLOTS = 1440 / SLOT_MINUTES;
const DAY_MS = 86_400_000;

/** One value for each ten minutes of the local day; NaN where the record has nothing. */
export interface RibbonDay {
  /** Local calendar date. */
  readonly date: string;
  /** AC power of everyday use that was served. [W] */
  readonly baseW: Float64Array;
  /** AC power of each load. [W] */
  readonly loadsW: readonly Float64Array[];
  /** At the battery bus. [W] */
  readonly potentialW: Float64Array;
  readonly unusedW: Float64Array;
  readonly generatorW: Float64Array;
  /** Into the battery. [W] ≥ 0 */
  readonly chargeW: Float64Array;
  /** [1] 0…1 */
  readonly socFraction: Float64Array;
  readonly ruleCurveFraction: Float64Array;
  readonly starts: readonly RibbonStart[];
}

export interface RibbonStart {
  readonly loadIndex: number;
  /** Minutes after local midnight. */
  readonly minute: number;
}

export interface RibbonRecorder {
  add(step: OutcomeStep): void;
  days(): readonly RibbonDay[];
}

interface Open {
  readonly day: RibbonDay & { readonly starts: RibbonStart[] };
  readonly localDay: number;
  /** Time in each slot so far. [s] */
  readonly seconds: Float64Array;
}

export function createRibbonRecorder({ control }: SiteSettings): RibbonRecorder {
  const all: Open[] = [];
  const before = control.loads.map(() => 0);
  return {
    add(step) {
      let open = all.at(-1);
      if (open === undefined || open.localDay !== step.localDay) {
        open = openDay(step.localDay, control.loads.length);
        all.push(open);
      }
      addStep(open, step);
      for (const [index, stage] of step.decision.loadStages.entries()) {
        if (stage > 0 && before[index] === 0) {
          open.day.starts.push({ loadIndex: index, minute: step.localMinute });
        }
        before[index] = stage;
      }
    },
    days: () => all.map(({ day }) => day),
  };
}

function openDay(localDay: number, loads: number): Open {
  const slots = () => new Float64Array(SLOTS).fill(NaN);
  return {
    localDay,
    seconds: new Float64Array(SLOTS),
    day: {
      date: new Date(localDay * DAY_MS).toISOString().slice(0, 10),
      baseW: slots(),
      loadsW: Array.from({ length: loads }, slots),
      potentialW: slots(),
      unusedW: slots(),
      generatorW: slots(),
      chargeW: slots(),
      socFraction: slots(),
      ruleCurveFraction: slots(),
      starts: [],
    },
  };
}

function addStep({ day, seconds }: Open, { dtS, localMinute, truth, decision }: OutcomeStep): void {
  const slot = Math.min(SLOTS - 1, Math.floor(localMinute / SLOT_MINUTES));
  const beforeS = seconds[slot] ?? 0;
  seconds[slot] = beforeS + dtS;
  const mean = (values: Float64Array, value: number): void => {
    const old = beforeS === 0 ? 0 : (values[slot] ?? 0);
    values[slot] = (old * beforeS + value * dtS) / (beforeS + dtS);
  };
  mean(day.baseW, truth.baseAcW - truth.unservedW);
  for (const [index, powerW] of day.loadsW.entries()) mean(powerW, truth.loadPowerW[index] ?? 0);
  mean(day.potentialW, truth.potentialW);
  mean(day.unusedW, Math.max(0, truth.potentialW - truth.deliveredW));
  mean(day.generatorW, truth.generatorW);
  mean(day.chargeW, Math.max(0, truth.batteryPowerW));
  mean(day.socFraction, truth.socFraction);
  mean(day.ruleCurveFraction, decision.site.ruleCurveFraction);
}
