import type { OutcomeReport, Totals } from "../outcome.ts";
import { roundFigures } from "../rounding.ts";
import type { Bound } from "./bound.ts";

/** The replay's result with how far it is from the best; days of both are the same. */
export function withBound(report: OutcomeReport, bound: Bound): OutcomeReport {
  const { usefulDivertedWh, gapWh, status, sunsetMisses } = bound;
  const ofDay = new Map(bound.perDay.map((day) => [day.date, day.usefulDivertedWh]));
  return roundFigures({
    ...report,
    totals: compared(report.totals, usefulDivertedWh),
    bound: { usefulDivertedWh, gapWh, status, sunsetMisses },
    perDay: report.perDay.map((day) => compared(day, ofDay.get(day.date) ?? 0)),
  });
}

/**
 * On a single day a controller may well be beyond the best plan for all of them: that plan may have
 * heated the tank on another day.
 */
function compared<T extends Totals>(totals: T, bestWh: number): T {
  return {
    ...totals,
    boundShareFraction: bestWh > 0 ? totals.usefulDivertedWh / bestWh : null,
    regretWh: bestWh - totals.usefulDivertedWh,
  };
}
