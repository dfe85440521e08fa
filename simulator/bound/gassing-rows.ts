/**
 * Near full, part of the charge makes gas: what is stored of it falls with the charge, and a
 * product of charge and power is in no linear programme. But the power that it takes to come from
 * one charge to another is the same on every way. So that power is counted beside the energy, as a
 * second measure of the same charge: charging adds to it what it takes and no less; and two
 * measures of one thing bound one another.
 */
import type { PowerMeasure } from "./battery-curve.ts";
import type { BoundStep } from "./bound-step.ts";
import type { Entry, ProgrammeBuilder } from "./programme.ts";

export interface ChargeAt {
  /** Of the energy in the cells. */
  readonly column: number;
  /** No charge that keeps the reserve is outside of these. [Wh] */
  readonly leastWh: number;
  readonly mostWh: number;
}

export interface GassingInput {
  readonly step: BoundStep;
  readonly before: ChargeAt;
  readonly after: ChargeAt;
  /** Column of the loads' DC power; null: none may run. */
  readonly drawnW: number | null;
}

/** Tangents lie at these shares of what is possible. [1] ours, by trial */
const TANGENTS = [0, 0.25, 0.5, 0.75] as const;

/** Where there is but one way, its digits must not close it. [Wh] */
const ROUNDING_WH = 1e-3;

/** A chord over less has a slope of rounding. [Wh] */
const SPAN_MIN_WH = 0.1;

/** From step to step while there is something to charge with. */
export function gassingRows(
  programme: ProgrammeBuilder,
  measure: PowerMeasure,
): (input: GassingInput) => void {
  let chain: number | null = null;
  return ({ step, before, after, drawnW }) => {
    if (step.netW <= 0) {
      chain = null;
      return;
    }
    const from: number = chain ?? linked(before);
    const to = linked(after);
    const drawn: Entry[] = drawnW === null ? [] : [[drawnW, step.hours]];
    programme.atMost(step.hours * step.netW, [[to, 1], [from, -1], ...drawn]);
    const spanWh = after.mostWh - after.leastWh;
    let lastShare = NaN;
    for (const share of TANGENTS) {
      const { energyWh, powerWh, storedShare } = measure.at(after.leastWh + share * spanWh);
      // Of one straight piece: the same line again, but for its last digits.
      if (storedShare === lastShare) continue;
      lastShare = storedShare;
      programme.atMost(energyWh - storedShare * powerWh + ROUNDING_WH, [
        [after.column, 1],
        [to, -storedShare],
      ]);
    }
    chain = to;
  };

  /** A column of the measure, under the chord over all that may be. */
  function linked({ column, leastWh, mostWh }: ChargeAt): number {
    const found = programme.column({ lower: -Infinity, upper: Infinity });
    const low = measure.at(leastWh);
    const high = measure.at(mostWh);
    const spanWh = high.energyWh - low.energyWh;
    const slope = spanWh > SPAN_MIN_WH ? (high.powerWh - low.powerWh) / spanWh : 0;
    // As good as one point: the highest of it stands for all.
    const from = slope > 0 ? low : high;
    programme.atMost(from.powerWh - slope * from.energyWh + ROUNDING_WH, [
      [found, 1],
      [column, -slope],
    ]);
    return found;
  }
}
