/**
 * The simulated shed: sources, battery, inverter and loads on one bus.
 *
 * Each step solves the bus once, with all powers constant: what the sources deliver is what the
 * inverter and the battery take. Charge controllers deliver all they can, unless that would carry
 * the battery past its set-point or its protection refuses it; then they deliver just what the
 * loads take and the battery accepts, which is what throttling is (`bus.ts`).
 */
import type { Battery } from "./battery.ts";
import { busCurrentA, deliver } from "./bus.ts";
import type { BusParts } from "./bus.ts";
import { advanceCharger, createCharger } from "./charge-controller.ts";
import { createBattery } from "./create-battery.ts";
import { advanceGenerator, createGenerator, offeredW } from "./generator.ts";
import { createInverter, inverterDcW, turnOff, watchOverload, watchRestart } from "./inverter.ts";
import { advanceLoads, createLoad, loadPowerW } from "./plant-load.ts";
import type { PlantLoad } from "./plant-load.ts";
import type { PlantSettings } from "./plant-settings.ts";
import { createTruth } from "./plant-truth.ts";
import type { PlantTruth } from "./plant-truth.ts";
import { createProgramme, programmePowerW } from "./programme.ts";
import type { Programme } from "./programme.ts";

export interface PlantInput {
  /** What each array could give at the battery bus, before its current limit. [W] ≥ 0 */
  readonly arrayPotentialW: Float64Array;
  /** What each turbine in the wind could give at the battery bus. [W] ≥ 0 */
  readonly windPotentialW: Float64Array;
  /** On the irradiance sensor; NaN: the day does not tell. [W/m²] ≥ 0 */
  readonly irradianceWm2: number;
  /** Everyday use, AC. [W] ≥ 0 */
  readonly baseAcW: number;
  readonly batteryTemperatureC: number;
  /** Minutes after local midnight, for the day's draws. [min] */
  readonly localMinute: number;
  /** Somebody or something has started the generator. */
  readonly isGeneratorCalled: boolean;
  readonly loadStages: readonly number[];
  /** Set power of each load; only loads of variable power look at it. [W] */
  readonly loadPowersW: readonly number[];
  readonly panelsClosed: readonly boolean[];
}

export interface Plant {
  readonly settings: PlantSettings;
  readonly truth: PlantTruth;
  /** Carries the shed over a step; 0 s only solves the bus at this instant. [s] ≥ 0 */
  step(dtS: number, input: PlantInput): void;
  /** Energy in the battery, for the energy book. [Wh] */
  storedWh(): number;
  /** Takes away charge above this, at rest. [1] 0…1 */
  lowerSoc(toFraction: number): void;
}

interface Parts extends BusParts {
  battery: Battery;
  readonly loads: readonly PlantLoad[];
  readonly programmes: readonly Programme[];
}

/** @param socFraction - State of charge to begin with. [1] 0…1 */
export function createPlant(settings: PlantSettings, socFraction: number): Plant {
  const parts: Parts = {
    settings,
    truth: createTruth(settings),
    battery: createBattery(settings.battery, socFraction),
    charger: createCharger(settings.charger),
    inverter: createInverter(settings.inverter),
    generator: settings.generator === null ? null : createGenerator(settings.generator),
    loads: settings.loads.map(createLoad),
    programmes: settings.programmes.map(createProgramme),
  };
  parts.truth.socFraction = socFraction;
  parts.truth.monitorFraction = socFraction;
  parts.truth.batteryVoltageV = parts.battery.terminalVoltageV(0, 0);
  return {
    settings,
    truth: parts.truth,
    step: (dtS, input) => stepPlant(parts, dtS, input),
    storedWh: () => parts.battery.storedWh(),
    lowerSoc: (toFraction) => lowerSoc(parts, toFraction),
  };
}

function stepPlant(parts: Parts, dtS: number, input: PlantInput): void {
  const { truth, charger, inverter } = parts;
  watchRestart(inverter, truth.batteryVoltageV, dtS);
  watchProtection(parts, input.batteryTemperatureC);
  limitPotential(parts, input);
  const offeredByGeneratorW = callGenerator(parts, input.isGeneratorCalled);
  askLoads(parts, dtS, input);
  if (inverter.isOn) watchOverload(inverter, truth.baseAcW + sum(truth.loadPowerW), dtS);
  let currentA = inverter.isOn ? busCurrentA(parts, offeredByGeneratorW, dtS) : null;
  if (currentA === null) {
    // Nothing left to give: everything on the inverter goes out, and the sources charge alone.
    if (inverter.isOn) turnOff(inverter);
    goDark(truth);
    currentA = busCurrentA(parts, offeredByGeneratorW, dtS) ?? 0;
  }
  settle(parts, currentA, dtS);
  deliver(parts, offeredByGeneratorW);
  if (parts.generator !== null) {
    advanceGenerator(parts.generator, truth.generatorW, dtS);
    truth.generatorFuelL = parts.generator.fuelL;
  }
  advanceCharger(charger, truth, dtS);
  if (charger.absorptionsCompleted > truth.absorptionsCompleted) parts.battery.syncMonitor();
  truth.monitorFraction = parts.battery.monitorFraction();
  truth.chargeStage = charger.stage;
  truth.absorptionsCompleted = charger.absorptionsCompleted;
  truth.isInverterOn = inverter.isOn;
  truth.isInverterFaulty = inverter.isFaulty;
  advanceLoads(parts, input.localMinute, dtS);
}

function lowerSoc(parts: Parts, toFraction: number): void {
  if (parts.battery.socFraction() <= toFraction) return;
  parts.battery = createBattery(parts.settings.battery, toFraction);
  parts.truth.socFraction = toFraction;
  parts.truth.monitorFraction = toFraction;
}

/** The battery carried over the step at the current that the bus has settled on. */
function settle({ truth, battery }: Parts, currentA: number, dtS: number): void {
  const voltageV = battery.terminalVoltageV(currentA, dtS);
  truth.batteryVoltageV = voltageV;
  truth.batteryCurrentA = currentA;
  truth.batteryPowerW = voltageV * currentA;
  const lossWh = battery.advance(currentA, dtS);
  truth.batteryLossW = dtS === 0 ? 0 : (lossWh * 3600) / dtS;
  truth.socFraction = battery.socFraction();
}

/** The battery's own protection, with hysteresis; it looks at the end of the step before. */
function watchProtection({ truth, battery, settings }: Parts, temperatureC: number): void {
  truth.batteryTemperatureC = temperatureC;
  const { protection } = settings.battery;
  if (protection === null) return;
  const minC = truth.isChargeBlocked ? protection.chargeAgainC : protection.chargeMinC;
  truth.isChargeBlocked = temperatureC < minC || truth.batteryVoltageV > protection.cutOffHighV;
  const releaseV = truth.isDischargeBlocked ? settings.inverter.restartV : protection.cutOffLowV;
  truth.isDischargeBlocked = truth.batteryVoltageV < releaseV || battery.socFraction() <= 0;
}

function limitPotential({ truth, settings }: Parts, input: PlantInput): void {
  truth.sunPotentialW = 0;
  for (let i = 0; i < settings.arrays.length; i += 1) {
    const limitA = settings.arrays[i]?.currentLimitA ?? Infinity;
    const limited = Math.min(input.arrayPotentialW[i] ?? 0, limitA * truth.batteryVoltageV);
    truth.arrayPotentialW[i] = limited;
    truth.sunPotentialW += limited;
  }
  for (let i = 0; i < settings.wind.length; i += 1) {
    truth.turbinePotentialW[settings.hydro.length + i] = input.windPotentialW[i] ?? 0;
  }
  truth.irradianceWm2 = input.irradianceWm2;
  truth.potentialW = truth.sunPotentialW;
  for (let i = 0; i < truth.turbinePotentialW.length; i += 1) {
    truth.potentialW += truth.turbinePotentialW[i] ?? 0;
  }
}

function callGenerator({ truth, generator }: Parts, isCalled: boolean): number {
  if (generator === null) return 0;
  const offered = offeredW(generator, isCalled);
  truth.isGeneratorRunning = generator.isRunning;
  return offered;
}

function askLoads(parts: Parts, dtS: number, input: PlantInput): void {
  const { truth, loads, settings } = parts;
  for (let p = 0; p < settings.panelCount; p += 1) {
    truth.panelIsClosed[p] = input.panelsClosed[p] === true ? 1 : 0;
  }
  for (let i = 0; i < loads.length; i += 1) {
    const load = loads[i];
    if (load === undefined) continue;
    const panel = load.settings.panelIndex;
    const isFed = panel === null || truth.panelIsClosed[panel] === 1;
    const stage = isFed ? (input.loadStages[i] ?? 0) : 0;
    truth.loadStage[i] = stage;
    truth.loadPowerW[i] = loadPowerW(load, stage, input.loadPowersW[i] ?? 0);
  }
  truth.baseAcW = input.baseAcW;
  for (const programme of parts.programmes) {
    truth.baseAcW += programmePowerW(programme, input.localMinute, dtS);
  }
  truth.unservedW = 0;
  truth.inverterAcW = truth.baseAcW + sum(truth.loadPowerW);
  truth.inverterDcW = inverterDcW(truth.inverterAcW, settings.inverter);
  truth.opportunityDcW = truth.inverterDcW - inverterDcW(truth.baseAcW, settings.inverter);
  truth.inverterLossW = truth.inverterDcW - truth.inverterAcW;
}

function goDark(truth: PlantTruth): void {
  truth.loadPowerW.fill(0);
  truth.unservedW = truth.baseAcW;
  truth.inverterAcW = 0;
  truth.inverterDcW = 0;
  truth.opportunityDcW = 0;
  truth.inverterLossW = 0;
}

function sum(values: Float64Array): number {
  let total = 0;
  for (let i = 0; i < values.length; i += 1) total += values[i] ?? 0;
  return total;
}
