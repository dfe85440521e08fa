/**
 * How full the battery may be kept without turning sun away that a load could have used.
 *
 * The problem: that a battery may be drawn down now, because the sun will make it good, is no
 * reason to do it. The sky may change its mind, and what was lent is missing at sunset. It is of
 * use only where the sun will soon give more than the loads can take: that much room has to be
 * left, and no more. Where the loads can follow the sun, the battery comes first and they get the
 * rest; they lose nothing by it.
 */
import { fractionAccepting } from "./acceptance-table.ts";
import type { CurveBattery } from "./curve.ts";
import { itemAt, numberAt } from "../item-at.ts";
import type { LoadWant } from "./loads-want.ts";

/**
 * Share of their power that loads take over a day: they rest, wait for one another, and step up
 * late. Found on the development weather. Ours, no source. [1]
 */
const TAKEN_SHARE = 0.7;

export interface KeptInput {
  /** Sources less use on the sunny side, at the battery bus; the last slot ends at sunset. [W] */
  readonly netW: readonly number[];
  readonly slotH: number;
  readonly battery: Pick<CurveBattery, "capacityWh" | "voltageShare" | "acceptance">;
  readonly wants: readonly LoadWant[];
}

/** At the beginning of each slot; 1 where no room is needed. [1] 0…1 */
export function keptFractions({ netW, slotH, battery, wants }: KeptInput): number[] {
  const excessW = excessOf(netW, slotH, wants);
  const kept = new Array<number>(netW.length);
  let fraction = 1;
  for (let slot = netW.length - 1; slot >= 0; slot -= 1) {
    const powerW = numberAt(excessW, slot);
    if (powerW > 0) {
      const room = (powerW * slotH * battery.voltageShare) / battery.capacityWh;
      // Near full it would refuse a part of it.
      const taking = Math.min(fraction, fractionAccepting(battery.acceptance, powerW));
      fraction = Math.max(0, taking - room);
    }
    kept[slot] = fraction;
  }
  return kept;
}

/**
 * What comes beyond what the loads take, if they run from now on. Once all that can be sated are,
 * only those want room that never are: an hour later for each that they might run now. [W] ≥ 0
 */
function excessOf(netW: readonly number[], slotH: number, wants: readonly LoadWant[]): number[] {
  const leftWh = wants.map(({ energyWh }) => energyWh);
  const excessW = new Array<number>(netW.length);
  for (let slot = 0; slot < netW.length; slot += 1) {
    const powerW = numberAt(netW, slot);
    excessW[slot] = 0;
    if (powerW <= 0) continue;
    let takenW = 0;
    let isAnyToBeSated = false;
    for (let index = 0; index < wants.length; index += 1) {
      const wh = numberAt(leftWh, index);
      if (wh <= 0) continue;
      takenW += TAKEN_SHARE * itemAt(wants, index).powerW;
      isAnyToBeSated ||= wh < Infinity;
    }
    if (takenW === 0) continue;
    const share = Math.min(1, powerW / takenW);
    for (let index = 0; index < wants.length; index += 1) {
      const givenWh = share * TAKEN_SHARE * itemAt(wants, index).powerW * slotH;
      leftWh[index] = Math.max(0, numberAt(leftWh, index) - givenWh);
    }
    const overW = Math.max(0, powerW - takenW);
    excessW[slot] = isAnyToBeSated ? overW : Math.min(overW, takenW);
  }
  return excessW;
}
