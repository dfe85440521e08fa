import type { InverterPlantSettings } from "./plant-settings.ts";

/** Changes in place. */
export interface Inverter {
  readonly settings: InverterPlantSettings;
  isOn: boolean;
  isFaulty: boolean;
  overloadedS: number;
  offS: number;
}

export function createInverter(settings: InverterPlantSettings): Inverter {
  return { settings, isOn: true, isFaulty: false, overloadedS: 0, offS: 0 };
}

/** Rests this long after a trip or a cut-off before it tries again. [s] */
const RESTART_AFTER_S = 120;

/**
 * DC power for an AC output: idle use, a part that goes with the power and one with its square. [W]
 *
 * @source common practice, no source
 * @check test/simulator/inverter.test.ts
 */
export function inverterDcW(acW: number, settings: InverterPlantSettings): number {
  const square = (settings.quadraticLoss * acW * acW) / settings.continuousW;
  return acW + settings.idleW + settings.proportionalLoss * acW + square;
}

/** Counts overload; trips at once beyond the surge rating, after a while beyond the continuous. */
export function watchOverload(inverter: Inverter, acW: number, dtS: number): void {
  inverter.overloadedS = acW > inverter.settings.continuousW ? inverter.overloadedS + dtS : 0;
  if (acW > inverter.settings.surgeVA || inverter.overloadedS > inverter.settings.overloadS) {
    turnOff(inverter);
    inverter.isFaulty = true;
  }
}

export function turnOff(inverter: Inverter): void {
  inverter.isOn = false;
  inverter.offS = 0;
  inverter.overloadedS = 0;
}

/** Comes back by itself once it has rested and the battery has recovered. */
export function watchRestart(inverter: Inverter, batteryV: number, dtS: number): void {
  if (inverter.isOn) return;
  inverter.offS += dtS;
  if (inverter.offS >= RESTART_AFTER_S && batteryV >= inverter.settings.restartV) {
    inverter.isOn = true;
    inverter.isFaulty = false;
  }
}
