/**
 * A generator with a battery charger: somebody starts it, it warms up without load, then the
 * charger gives what it can until the set-point holds it back. It does not feed the house: that
 * goes on through the inverter, so a site with a transfer switch burns a little less than here.
 *
 * @check test/checks/generator.test.ts
 */
export interface GeneratorPlantSettings {
  /** [W] > 0 */
  readonly ratedW: number;
  /** What its charger can put into the battery bus. [W] > 0 */
  readonly chargerW: number;
  /** Charger's output over its AC input. [1] 0…1 */
  readonly chargerEfficiencyFraction: number;
  readonly warmUpS: number;
}

/** Changes in place. */
export interface Generator {
  readonly settings: GeneratorPlantSettings;
  isRunning: boolean;
  runningS: number;
  starts: number;
  fuelL: number;
}

/**
 * Fuel of a diesel set without load, for each kW of its rating, and for each kWh that it gives.
 *
 * @source Straight line through the 20 kW row of a widely reprinted consumption chart (0.6, 0.9,
 * 1.3 and 1.6 gal/h at quarters of the load), CHECKS section 8
 */
const IDLE_L_PER_KWH = 0.0473;
const LOAD_L_PER_KWH = 0.2574;

export function createGenerator(settings: GeneratorPlantSettings): Generator {
  return { settings, isRunning: false, runningS: 0, starts: 0, fuelL: 0 };
}

/** Fuel at a steady AC output. [L/h] ≥ 0 */
export function fuelLPerH(ratedW: number, powerW: number): number {
  return (IDLE_L_PER_KWH * ratedW + LOAD_L_PER_KWH * powerW) / 1000;
}

/** Starts or stops it at the beginning of a step. @returns what its charger offers now. [W] */
export function offeredW(generator: Generator, isCalled: boolean): number {
  if (isCalled && !generator.isRunning) generator.starts += 1;
  if (!isCalled) generator.runningS = 0;
  generator.isRunning = isCalled;
  const isWarm = isCalled && generator.runningS >= generator.settings.warmUpS;
  return isWarm ? generator.settings.chargerW : 0;
}

/** @param deliveredW - What the charger really gave to the bus. [W] */
export function advanceGenerator(generator: Generator, deliveredW: number, dtS: number): void {
  if (!generator.isRunning) return;
  const { ratedW, chargerEfficiencyFraction } = generator.settings;
  generator.runningS += dtS;
  generator.fuelL += (fuelLPerH(ratedW, deliveredW / chargerEfficiencyFraction) * dtS) / 3600;
}
