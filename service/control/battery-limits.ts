/**
 * What the battery may give and take now: the maker's limits, and those that its own protection
 * reports, whichever is lower. A limit of 0 is a block.
 */
import type { Observation, Reading } from "./observation.ts";
import type { BatterySettings } from "./settings.ts";

/** Charging at this share of the limit means that the limit holds the sources back. */
const AT_LIMIT_FRACTION = 0.98;

/** [A] ≥ 0; null: none known. */
export function chargeLimitA(observation: Observation, battery: BatterySettings): number | null {
  return lower(battery.chargeLimitA, observation.battery.chargeLimitA);
}

/** [A] ≥ 0; null: none known. */
export function dischargeLimitA(observation: Observation, battery: BatterySettings): number | null {
  return lower(battery.dischargeLimitA, observation.battery.dischargeLimitA);
}

export function isChargeBlocked({ battery }: Observation): boolean {
  const { isChargeBlocked: flag, chargeLimitA: limit } = battery;
  return (flag.quality === "fresh" && flag.value) || isZero(limit);
}

export function isDischargeBlocked({ battery }: Observation): boolean {
  const { isDischargeBlocked: flag, dischargeLimitA: limit } = battery;
  return (flag.quality === "fresh" && flag.value) || isZero(limit);
}

/** It takes all that it is allowed to take, so that the sources may have more to give. */
export function isAtChargeLimit(observation: Observation, battery: BatterySettings): boolean {
  const limitA = chargeLimitA(observation, battery);
  const { quality, value } = observation.battery.currentA;
  return limitA !== null && quality === "fresh" && value >= AT_LIMIT_FRACTION * limitA;
}

function isZero({ quality, value }: Reading): boolean {
  return quality === "fresh" && value === 0;
}

function lower(statedA: number | null, reported: Reading): number | null {
  if (reported.quality !== "fresh") return statedA;
  return statedA === null ? reported.value : Math.min(statedA, reported.value);
}
