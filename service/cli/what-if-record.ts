/** A replay's steps as the columns and figures that a page draws beside the recorded day. */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { OutcomeReport, OutcomeStep } from "../../simulator/outcome.ts";
import type { ReplayedDay } from "../what-if-contract.ts";

export interface ReplayRecord {
  readonly add: (step: OutcomeStep) => void;
  readonly day: (report: OutcomeReport) => ReplayedDay;
}

type Columns = Record<
  "sourcesPowerW" | "potentialW" | "basePowerW" | "socFraction" | "ruleCurveFraction",
  number[]
>;

const MINUTE_MS = 60_000;
const PERCENT = 100;

/** One row a step; steps are minutes. */
export function createReplayRecord({ control }: SiteSettings, fromMs: number): ReplayRecord {
  const minutes: number[] = [];
  const columns: Columns = {
    sourcesPowerW: [],
    potentialW: [],
    basePowerW: [],
    socFraction: [],
    ruleCurveFraction: [],
  };
  const loadsW = control.loads.map((): number[] => []);
  return {
    add({ wallMs, truth, decision }) {
      minutes.push(Math.floor((wallMs - fromMs) / MINUTE_MS));
      columns.sourcesPowerW.push(Math.round(truth.deliveredW));
      columns.potentialW.push(Math.round(truth.potentialW));
      columns.basePowerW.push(Math.round(truth.baseAcW - truth.unservedW));
      columns.socFraction.push(toTenThousandth(truth.socFraction));
      columns.ruleCurveFraction.push(toTenThousandth(decision.site.ruleCurveFraction));
      for (const [index, powerW] of loadsW.entries()) {
        powerW.push(Math.round(truth.loadPowerW[index] ?? 0));
      }
    },
    day({ totals, loads }) {
      const { divertedWh, curtailedWh, potentialWh, unservedWh, reserveDrawnWh, starts } = totals;
      return {
        minutes,
        ...columns,
        loads: Object.fromEntries(
          control.loads.map(({ id, label }, index) => [id, { label, powerW: loadsW[index] ?? [] }]),
        ),
        figures: {
          divertedWh,
          curtailedWh,
          potentialWh,
          unservedWh,
          reserveDrawnWh,
          starts,
          lowestSocFraction: toTenThousandth(totals.minSocPercent / PERCENT),
          endSocFraction: toTenThousandth(totals.endSocPercent / PERCENT),
        },
        energies: Object.fromEntries(
          Object.entries(loads).map(([id, { energyWh, starts: of }]) => [
            id,
            { energyWh, starts: of },
          ]),
        ),
      };
    },
  };
}

function toTenThousandth(fraction: number): number {
  return Math.round(fraction * 10_000) / 10_000;
}
