/**
 * The battery bus, solved once a step: the current at which sources, battery and inverter agree.
 *
 * Everything is regulated by voltage. Up to the set-point all sources give what they can. At the
 * set-point arrays and generator hold back together; a turbine goes on, and where it alone is too
 * much, the voltage rises to that of its dump, which burns the rest.
 */
import type { Battery } from "./battery.ts";
import { setPointV } from "./charge-controller.ts";
import type { Charger } from "./charge-controller.ts";
import type { Generator } from "./generator.ts";
import type { Inverter } from "./inverter.ts";
import type { PlantSettings } from "./plant-settings.ts";
import type { PlantTruth } from "./plant-truth.ts";

export interface BusParts {
  readonly settings: PlantSettings;
  readonly truth: PlantTruth;
  readonly battery: Battery;
  readonly charger: Charger;
  readonly inverter: Inverter;
  readonly generator: Generator | null;
}

/** Of the solved bus, well below what the energy book is checked to. [1] */
const ROUNDING = 1e-11;

/**
 * The battery's current on the solved bus. [A]
 *
 * @returns null if the loads ask for more than sources and battery can give.
 */
export function busCurrentA(parts: BusParts, generatorW: number, dtS: number): number | null {
  const { truth, battery, charger, settings } = parts;
  const freeA = battery.currentForPower(truth.potentialW + generatorW - truth.inverterDcW, dtS);
  if (freeA === null) return null;
  const freeV = battery.terminalVoltageV(freeA, dtS);
  if (freeA < 0) {
    const isEmpty = truth.isDischargeBlocked || freeA < battery.emptyingCurrentA(dtS);
    const isLow = freeV < settings.inverter.cutOffLowV;
    if (isEmpty || (isLow && truth.inverterDcW > 0)) return null;
  }
  const acceptedA = truth.isChargeBlocked ? 0 : battery.fillingCurrentA(dtS);
  const setV = setPointV(charger, truth.batteryTemperatureC);
  if (freeV <= setV && freeA <= acceptedA) return freeA;
  const heldA = Math.min(battery.currentForVoltage(setV, dtS), acceptedA);
  const turbinesW = truth.potentialW - truth.sunPotentialW;
  const turbinesAloneA =
    battery.currentForPower(turbinesW - truth.inverterDcW, dtS) ?? Number.NEGATIVE_INFINITY;
  if (heldA >= turbinesAloneA) return Math.min(freeA, heldA);
  if (turbinesW === 0) return turbinesAloneA;
  const dumpedA = Math.min(battery.currentForVoltage(settings.dumpV, dtS), acceptedA);
  // Sources cannot take power in: with nothing left to hold back, the loads set the current.
  const loadsAloneA = battery.currentForPower(-truth.inverterDcW, dtS) ?? Number.NEGATIVE_INFINITY;
  return Math.max(loadsAloneA, Math.min(turbinesAloneA, dumpedA));
}

/** Who gives what the bus takes: turbines first, then the sun, and the generator the rest. */
export function deliver(parts: BusParts, generatorW: number): void {
  const { truth } = parts;
  const wantedW = truth.batteryPowerW + truth.inverterDcW;
  const offeredW = truth.potentialW + generatorW;
  // Where nothing is held back, the solved current's last digits must not look like curtailment.
  const isAll = Math.abs(offeredW - wantedW) <= ROUNDING * offeredW;
  const turbinesW = truth.potentialW - truth.sunPotentialW;
  const fromTurbinesW = isAll ? turbinesW : takenW(turbinesW, wantedW);
  const restW = wantedW - fromTurbinesW;
  const isSunAll = isAll || (generatorW > 0 && restW >= truth.sunPotentialW);
  const fromSunW = isSunAll ? truth.sunPotentialW : restW;
  truth.generatorW = isAll ? generatorW : generatorW > 0 ? restW - fromSunW : 0;
  truth.deliveredW = fromTurbinesW + fromSunW;
  shareOut(truth, fromSunW, fromTurbinesW);
}

/** All of it, but for rounding, or what is wanted. */
function takenW(offeredW: number, wantedW: number): number {
  return wantedW >= offeredW * (1 - ROUNDING) ? offeredW : Math.max(0, wantedW);
}

function shareOut(truth: PlantTruth, fromSunW: number, fromTurbinesW: number): void {
  const sunShare = truth.sunPotentialW > 0 ? fromSunW / truth.sunPotentialW : 0;
  for (let i = 0; i < truth.arrayPotentialW.length; i += 1) {
    truth.arrayDeliveredW[i] = Math.max(0, sunShare * (truth.arrayPotentialW[i] ?? 0));
  }
  const turbinesW = truth.potentialW - truth.sunPotentialW;
  const turbineShare = turbinesW > 0 ? fromTurbinesW / turbinesW : 0;
  for (let i = 0; i < truth.turbinePotentialW.length; i += 1) {
    const potentialW = truth.turbinePotentialW[i] ?? 0;
    truth.turbineDeliveredW[i] = turbineShare * potentialW;
    truth.turbineDumpW[i] = (1 - turbineShare) * potentialW;
  }
}
