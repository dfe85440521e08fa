/** What the inverter and its legs have left, beyond what is measured of them. */
import { itemAt } from "./item-at.ts";
import type { ScheduleInput } from "./schedule-turn.ts";
import { drawnW } from "./surplus.ts";
import { mayRest } from "./thermostat.ts";

/**
 * Where the inverter's power is not measured, what the running loads were allotted counts. What
 * they may take beyond their present use is kept for them. [W]
 */
export function inverterFreeW(input: ScheduleInput): number {
  const { site, ratings, loads } = input;
  let takenW = 0;
  let keptW = 0;
  for (let index = 0; index < loads.length; index += 1) {
    takenW += itemAt(loads, index).powerW;
    keptW += unusedW(index, input);
  }
  return (site.inverterHeadroomW ?? ratings.continuousW - takenW) - keptW;
}

/** Apparent power that it gives now, with what is kept. [VA] */
export function inverterTakenVA(input: ScheduleInput): number {
  let reactiveVA = 0;
  for (let index = 0; index < input.loads.length; index += 1) {
    reactiveVA += reactiveOfVA(index, input);
  }
  return input.ratings.continuousW - inverterFreeW(input) + reactiveVA;
}

/** What is left on a leg; null where that is not measured. [VA] */
export function legFreeVA(leg: number, input: ScheduleInput): number | null {
  const { settings, observation, ratings, loads } = input;
  const { quality, value } = itemAt(observation.inverter.legPowersW, leg);
  if (quality !== "fresh") return null;
  let hiddenVA = 0;
  for (let index = 0; index < loads.length; index += 1) {
    const { legIndex } = itemAt(settings.loads, index);
    hiddenVA +=
      shareOnLeg(legIndex, leg, input) * (unusedW(index, input) + reactiveOfVA(index, input));
  }
  return ratings.share * itemAt(settings.inverter.legs, leg).continuousVA - value - hiddenVA;
}

/** A load that names no leg is on all of them alike. [1] 0…1 */
export function shareOnLeg(
  legIndex: number | null,
  leg: number,
  { settings }: Pick<ScheduleInput, "settings">,
): number {
  if (legIndex === null) return 1 / settings.inverter.legs.length;
  return legIndex === leg ? 1 : 0;
}

/** Live sockets may take more at any moment, and so may a load whose own thermostat is open. [W] */
function unusedW(index: number, { loads, settings, observation }: ScheduleInput): number {
  const load = itemAt(loads, index);
  if (load.stage === 0) return 0;
  const ofLoad = itemAt(settings.loads, index);
  const mostW = ofLoad.sockets?.maximumW ?? load.powerW;
  if (mayRest(load, ofLoad)) return mostW;
  return Math.max(0, mostW - drawnW(load, itemAt(observation.loads, index).powerW));
}

/** What a running motor takes beyond its real power. [VA] */
function reactiveOfVA(index: number, { loads, settings }: ScheduleInput): number {
  const { powerW } = itemAt(loads, index);
  return powerW / itemAt(settings.loads, index).powerFactor - powerW;
}
