/**
 * How the energy in the cells can grow within a step, as rows of the programme, and the least that
 * has to be there at each step's end so that the rows behind it can be kept.
 */
import type { BatteryCurve, PowerMeasure } from "./battery-curve.ts";
import type { BoundStep, PowerLine } from "./bound-step.ts";

/** after ≤ left · before + grownWh − drawnShareH · DC power of the loads */
export interface GrowthRow {
  readonly left: number;
  readonly grownWh: number;
  readonly drawnShareH: number;
}

/** @param startFraction - No less charge at the step's start. [1] 0…1 */
export function growthRows(
  step: BoundStep,
  curve: BatteryCurve,
  startFraction: number,
): readonly GrowthRow[] {
  const { hours, netW } = step;
  const growth: PowerLine[] = [{ slope: 1, interceptW: 0 }];
  growth.push(curve.dischargeLine(Math.min(0, netW)));
  if (netW > 0) growth.push(...curve.chargeLines(startFraction, netW));
  if (step.isChargeBlocked) growth.push({ slope: 0, interceptW: 0 });
  const rows = distinct(growth).map(({ slope, interceptW }) => ({
    left: 1,
    grownWh: hours * (slope * netW + interceptW),
    drawnShareH: slope * hours,
  }));
  return netW > 0 ? [...rows, ...acceptanceRows(step, curve, startFraction)] : rows;
}

/** Exact for each line: the charge nears the line's own end as it would with nothing else. */
function acceptanceRows(
  { hours }: BoundStep,
  curve: BatteryCurve,
  startFraction: number,
): readonly GrowthRow[] {
  return curve.acceptance(startFraction).map(({ offset, fall }) => {
    const left = Math.exp(-fall * hours);
    return { left, grownWh: (offset / fall) * (1 - left), drawnShareH: 0 };
  });
}

/** The lossless line says nothing that a line with a loss does not, where that begins at 0. */
function distinct(lines: readonly PowerLine[]): readonly PowerLine[] {
  return lines.filter(
    ({ slope, interceptW }, i) =>
      lines.findIndex((other) => other.slope === slope && other.interceptW === interceptW) === i,
  );
}

/**
 * Nor can more be there at a step's end than without any load.
 *
 * @param topWh - Never more than this.
 */
export function mostAhead(
  startWh: number,
  topWh: number,
  {
    rows,
    steps,
    measure,
  }: {
    readonly rows: readonly (readonly GrowthRow[])[];
    readonly steps: readonly BoundStep[];
    readonly measure: PowerMeasure | null;
  },
): Float64Array {
  let beforeWh = startWh;
  return Float64Array.from(rows, (ofStep, t) => {
    let mostWh = topWh;
    for (const { left, grownWh } of ofStep) mostWh = Math.min(mostWh, left * beforeWh + grownWh);
    const { netW = 0, hours = 0 } = steps[t] ?? {};
    if (measure !== null && netW > 0) {
      mostWh = Math.min(mostWh, chargedWh(measure, beforeWh, netW * hours));
    }
    beforeWh = mostWh;
    return mostWh;
  });
}

/** Where so much power leads, with the stored share of where it begins. */
function chargedWh(measure: PowerMeasure, fromWh: number, powerWh: number): number {
  return fromWh + measure.at(fromWh).storedShare * powerWh;
}

/**
 * The rows say this already, one through the other: without any load, from less than this one of
 * the steps to come would end under its own least. Said to the solver in so many words, a plan for
 * some of the days is never one that the next day has to undo.
 *
 * @param leastWh - What each step's end asks for itself.
 */
export function leastAhead(
  leastWh: Float64Array,
  rows: readonly (readonly GrowthRow[])[],
): Float64Array {
  const ahead = leastWh.slice();
  for (let t = ahead.length - 1; t > 0; t -= 1) {
    for (const { left, grownWh } of rows[t] ?? []) {
      ahead[t - 1] = Math.max(ahead[t - 1] ?? 0, ((ahead[t] ?? 0) - grownWh) / left);
    }
  }
  return ahead;
}
