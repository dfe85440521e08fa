/**
 * The rule curve by outlook, as numbers alone: backward from the next sunset, where the battery is
 * to be at its target, through what sun and use are to bring until then.
 *
 * Energy alone would promise too much: near full the battery takes less and less, so each step back
 * counts only what it accepts at the state of charge at which the step is to end. That state is the
 * highest of the step, where it accepts the least: the error is on the careful side.
 */
import { acceptedW } from "./acceptance-table.ts";
import type { AcceptanceTable } from "./acceptance-table.ts";
import { numberAt } from "../item-at.ts";

export interface CurveBattery {
  /** [Wh] > 0 */
  readonly capacityWh: number;
  /** Nominal voltage over that at which it is charged: what is above it is lost. [1] 0…1 */
  readonly voltageShare: number;
  /** Share of the charge that is stored, at a state of charge. [1] 0…1 */
  readonly storedShare: (fraction: number) => number;
  /** Given at the terminals over taken from the store. [1] */
  readonly dischargeEfficiency: number;
  readonly acceptance: AcceptanceTable;
}

export interface CurveInput {
  /** At the battery bus, sources less use; the last slot ends at sunset. [W] */
  readonly netW: readonly number[];
  readonly slotH: number;
  readonly battery: CurveBattery;
  /** [1] 0…1 */
  readonly floorFraction: number;
  /** Wanted at the end of the last slot. [1] ≥ floorFraction */
  readonly targetFraction: number;
  /** Never above this, whatever is to be drawn before the end. [1] ≥ targetFraction */
  readonly ceilingFraction: number;
}

/**
 * R at the beginning of each slot and, last, at the end of the last one. [1]
 *
 * Within [floor, target] everywhere: where the target is out of reach the curve is at the target,
 * so that the battery gets everything that it accepts.
 */
export function curveFractions(input: CurveInput): number[] {
  const { netW, floorFraction, targetFraction, ceilingFraction } = input;
  const curve = new Array<number>(netW.length + 1).fill(targetFraction);
  let fraction = targetFraction;
  for (let slot = netW.length - 1; slot >= 0; slot -= 1) {
    const before = fraction - changeFraction(numberAt(netW, slot), fraction, input);
    fraction = Math.min(ceilingFraction, Math.max(floorFraction, before));
    curve[slot] = fraction;
  }
  return curve;
}

/**
 * Where the state of charge goes from `fraction` if no opportunity load runs, at the same instants
 * as the curve. [1] 0…1
 */
export function pathFractions(
  fraction: number,
  input: Pick<CurveInput, "netW" | "slotH" | "battery">,
): number[] {
  const { netW } = input;
  const path = new Array<number>(netW.length + 1);
  path[0] = fraction;
  let now = fraction;
  for (let slot = 0; slot < netW.length; slot += 1) {
    now = Math.min(1, Math.max(0, now + changeFraction(numberAt(netW, slot), now, input)));
    path[slot + 1] = now;
  }
  return path;
}

/** What a slot brings to the state of charge, of a battery that is at `fraction`. [1] */
function changeFraction(
  netW: number,
  fraction: number,
  { slotH, battery }: Pick<CurveInput, "slotH" | "battery">,
): number {
  const perW = slotH / battery.capacityWh;
  if (netW < 0) return (netW * perW) / battery.dischargeEfficiency;
  return (
    Math.min(netW, acceptedW(battery.acceptance, fraction)) *
    perW *
    battery.voltageShare *
    battery.storedShare(fraction)
  );
}
