import type { RangeFigures } from "../compared-figures.ts";
import type { OutcomeReport } from "../outcome.ts";
import { roundFigures } from "../rounding.ts";

/** A switch that falls a minute earlier or later changes this much either way. [1] no source */
const CHANCE = 0.01;

/** The replay of the likely potential, with what those of the low and of the high one came to. */
export function withRange(
  report: OutcomeReport,
  ends: { readonly low: OutcomeReport; readonly high: OutcomeReport },
): OutcomeReport {
  const all = [report.totals, ends.low.totals, ends.high.totals];
  return roundFigures({
    ...report,
    range: {
      low: figures((key) => (1 - CHANCE) * Math.min(...all.map((totals) => totals[key]))),
      high: figures((key) => (1 + CHANCE) * Math.max(...all.map((totals) => totals[key]))),
    },
  });
}

function figures(of: (key: keyof RangeFigures) => number): RangeFigures {
  return {
    potentialWh: of("potentialWh"),
    curtailedWh: of("curtailedWh"),
    divertedWh: of("divertedWh"),
    usefulDivertedWh: of("usefulDivertedWh"),
  };
}
