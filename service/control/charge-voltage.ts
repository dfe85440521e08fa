import type { Observation } from "./observation.ts";
import type { BatterySettings } from "./settings.ts";

/** Set-points are given for this battery temperature. [°C] common practice, no source */
const REFERENCE_TEMPERATURE_C = 25;
/** Beyond these the set-point does not move on. [°C] range of the GTZ solar-home-system standard */
const COMPENSATION_MIN_C = -10;
const COMPENSATION_MAX_C = 55;

/**
 * A charge set-point at the battery's present temperature.
 *
 * Without a fresh temperature the set-point for 25 °C is used; for a cold battery that is too low,
 * which reads "at the set-point" a little early and never overcharges, since only the charge
 * controller charges.
 *
 * @param setpointV - At 25 °C. [V]
 * @returns [V]
 * @source GTZ solar-home-system standard as told by energypedia: −3…−5 mV/K/cell, −10…+55 °C
 * @check test/checks/charge-voltage.test.ts
 */
export function compensatedVoltageV(
  setpointV: number,
  observation: Observation,
  battery: BatterySettings,
): number {
  const temperature = observation.battery.temperatureC;
  if (battery.compensationVPerK === 0 || temperature.quality !== "fresh") return setpointV;
  const heldC = Math.min(COMPENSATION_MAX_C, Math.max(COMPENSATION_MIN_C, temperature.value));
  return setpointV + battery.compensationVPerK * (heldC - REFERENCE_TEMPERATURE_C);
}

/**
 * How far under a set-point still counts as "held at it": 0.1 V per 12 V.
 *
 * @returns [V]
 * @source common practice, no source
 */
export function setpointToleranceV(battery: BatterySettings): number {
  return battery.nominalVoltageV / 120;
}
