/**
 * The simulated shed: arrays, charge controllers, battery, inverter and loads on one bus.
 *
 * Each step solves the bus once, with all powers constant: what the sources deliver is what the
 * inverter and the battery take. The charge controllers deliver all they can, unless that would
 * carry the battery past its set-point or its protection refuses it; then they deliver just what
 * the loads take and the battery accepts, which is what throttling is.
 */
import { advanceCharger, createCharger, setPointV } from "./charge-controller.ts";
import type { Charger } from "./charge-controller.ts";
import { createInverter, inverterDcW, turnOff, watchOverload, watchRestart } from "./inverter.ts";
import type { Inverter } from "./inverter.ts";
import {
  advanceBattery,
  createBattery,
  currentForPower,
  currentForVoltage,
  emptyingCurrentA,
  fillingCurrentA,
  storedWh,
  terminalVoltageV,
} from "./lfp-battery.ts";
import type { LfpBattery } from "./lfp-battery.ts";
import { advanceLoads, createLoad, loadPowerW } from "./plant-load.ts";
import type { PlantLoad } from "./plant-load.ts";
import type { PlantSettings } from "./plant-settings.ts";
import { createTruth } from "./plant-truth.ts";
import type { PlantTruth } from "./plant-truth.ts";

export interface PlantInput {
  /** What each array could give at the battery bus, before its current limit. [W] ≥ 0 */
  readonly arrayPotentialW: Float64Array;
  /** Everyday use, AC. [W] ≥ 0 */
  readonly baseAcW: number;
  readonly batteryTemperatureC: number;
  /** Minutes after local midnight, for the day's draws. [min] */
  readonly localMinute: number;
  readonly loadStages: readonly number[];
  readonly panelsClosed: readonly boolean[];
}

export interface Plant {
  readonly settings: PlantSettings;
  readonly truth: PlantTruth;
  /** Carries the shed over a step; 0 s only solves the bus at this instant. [s] ≥ 0 */
  step(dtS: number, input: PlantInput): void;
  /** Energy in the battery, for the energy book. [Wh] */
  storedWh(): number;
}

/** Of the solved bus, well below what the energy book is checked to. [1] */
const ROUNDING = 1e-11;

interface Parts {
  readonly settings: PlantSettings;
  readonly truth: PlantTruth;
  readonly battery: LfpBattery;
  readonly charger: Charger;
  readonly inverter: Inverter;
  readonly loads: readonly PlantLoad[];
}

/** @param socFraction - State of charge to begin with. [1] 0…1 */
export function createPlant(settings: PlantSettings, socFraction: number): Plant {
  const parts: Parts = {
    settings,
    truth: createTruth(settings),
    battery: createBattery(settings.battery, socFraction),
    charger: createCharger(settings.charger),
    inverter: createInverter(settings.inverter),
    loads: settings.loads.map(createLoad),
  };
  parts.truth.socFraction = socFraction;
  parts.truth.batteryVoltageV = terminalVoltageV(parts.battery, 0, 0);
  return {
    settings,
    truth: parts.truth,
    step: (dtS, input) => stepPlant(parts, dtS, input),
    storedWh: () => storedWh(parts.battery),
  };
}

function stepPlant(parts: Parts, dtS: number, input: PlantInput): void {
  const { truth, battery, charger, inverter } = parts;
  watchRestart(inverter, truth.batteryVoltageV, dtS);
  watchProtection(parts, input.batteryTemperatureC);
  limitPotential(parts, input.arrayPotentialW);
  askLoads(parts, input);
  if (inverter.isOn) watchOverload(inverter, truth.baseAcW + sum(truth.loadPowerW), dtS);
  let currentA = inverter.isOn ? busCurrentA(parts, dtS) : null;
  if (currentA === null) {
    // Nothing left to give: everything on the inverter goes out, and the sun charges alone.
    if (inverter.isOn) turnOff(inverter);
    goDark(parts);
    currentA = busCurrentA(parts, dtS) ?? 0;
  }
  const voltageV = terminalVoltageV(battery, currentA, dtS);
  truth.batteryVoltageV = voltageV;
  truth.batteryCurrentA = currentA;
  truth.batteryPowerW = voltageV * currentA;
  deliver(parts, truth.batteryPowerW + truth.inverterDcW);
  const lossWh = advanceBattery(battery, currentA, dtS);
  truth.batteryLossW = dtS === 0 ? 0 : (lossWh * 3600) / dtS;
  truth.socFraction = battery.socFraction;
  advanceCharger(charger, truth, dtS);
  truth.chargeStage = charger.stage;
  truth.absorptionsCompleted = charger.absorptionsCompleted;
  truth.isInverterOn = inverter.isOn;
  truth.isInverterFaulty = inverter.isFaulty;
  advanceLoads(parts, input.localMinute, dtS);
}

/** The battery's own protection, with hysteresis; it looks at the end of the step before. */
function watchProtection(parts: Parts, temperatureC: number): void {
  const { truth, battery, settings } = parts;
  const { cell } = battery;
  const minC = truth.isChargeBlocked ? cell.chargeAgainC : cell.chargeMinC;
  truth.batteryTemperatureC = temperatureC;
  truth.isChargeBlocked = temperatureC < minC || truth.batteryVoltageV > cell.cutOffHighV;
  const releaseV = truth.isDischargeBlocked ? settings.inverter.restartV : cell.cutOffLowV;
  truth.isDischargeBlocked = truth.batteryVoltageV < releaseV || battery.socFraction <= 0;
}

function limitPotential(parts: Parts, potentialW: Float64Array): void {
  const { truth, settings } = parts;
  truth.potentialW = 0;
  for (let i = 0; i < settings.arrays.length; i += 1) {
    const limitA = settings.arrays[i]?.currentLimitA ?? Infinity;
    const limited = Math.min(potentialW[i] ?? 0, limitA * truth.batteryVoltageV);
    truth.arrayPotentialW[i] = limited;
    truth.potentialW += limited;
  }
}

function askLoads(parts: Parts, input: PlantInput): void {
  const { truth, loads, settings } = parts;
  for (let p = 0; p < settings.panelCount; p += 1) {
    truth.panelIsClosed[p] = input.panelsClosed[p] === true ? 1 : 0;
  }
  for (let i = 0; i < loads.length; i += 1) {
    const panel = settings.loads[i]?.panelIndex ?? null;
    const isFed = panel === null || truth.panelIsClosed[panel] === 1;
    truth.loadStage[i] = isFed ? (input.loadStages[i] ?? 0) : 0;
    truth.loadPowerW[i] = loadPowerW(loads[i], truth.loadStage[i] ?? 0);
  }
  truth.baseAcW = input.baseAcW;
  truth.unservedW = 0;
  truth.inverterAcW = input.baseAcW + sum(truth.loadPowerW);
  truth.inverterDcW = inverterDcW(truth.inverterAcW, settings.inverter);
  truth.opportunityDcW = truth.inverterDcW - inverterDcW(input.baseAcW, settings.inverter);
  truth.inverterLossW = truth.inverterDcW - truth.inverterAcW;
}

function goDark(parts: Parts): void {
  const { truth } = parts;
  truth.loadPowerW.fill(0);
  truth.unservedW = truth.baseAcW;
  truth.inverterAcW = 0;
  truth.inverterDcW = 0;
  truth.opportunityDcW = 0;
  truth.inverterLossW = 0;
}

/**
 * The battery's current on the solved bus. [A]
 *
 * @returns null if the loads ask for more than sources and battery can give.
 */
function busCurrentA(parts: Parts, dtS: number): number | null {
  const { truth, battery, charger, settings } = parts;
  const freeA = currentForPower(battery, truth.potentialW - truth.inverterDcW, dtS);
  if (freeA === null) return null;
  const freeV = terminalVoltageV(battery, freeA, dtS);
  if (freeA < 0) {
    const isEmpty = truth.isDischargeBlocked || freeA < emptyingCurrentA(battery, dtS);
    const isLow = freeV < settings.inverter.cutOffLowV;
    if (isEmpty || (isLow && truth.inverterDcW > 0)) return null;
  }
  const acceptedA = truth.isChargeBlocked ? 0 : fillingCurrentA(battery, dtS);
  if (freeV <= setPointV(charger) && freeA <= acceptedA) return freeA;
  const heldA = currentForVoltage(battery, setPointV(charger), dtS);
  // Sources cannot take power in: with no sun left to hold back, the loads alone set the current.
  const loadsAloneA = currentForPower(battery, -truth.inverterDcW, dtS) ?? -Infinity;
  return Math.max(loadsAloneA, Math.min(freeA, heldA, acceptedA));
}

function deliver(parts: Parts, wantedW: number): void {
  const { truth, settings } = parts;
  // Where nothing is held back, the solved current's last digits must not look like curtailment.
  const isAll = Math.abs(truth.potentialW - wantedW) <= ROUNDING * truth.potentialW;
  truth.deliveredW = isAll ? truth.potentialW : wantedW;
  const share = truth.potentialW > 0 ? truth.deliveredW / truth.potentialW : 0;
  for (let i = 0; i < settings.arrays.length; i += 1) {
    truth.arrayDeliveredW[i] = Math.max(0, share * (truth.arrayPotentialW[i] ?? 0));
  }
}

function sum(values: Float64Array): number {
  let total = 0;
  for (let i = 0; i < values.length; i += 1) total += values[i] ?? 0;
  return total;
}
