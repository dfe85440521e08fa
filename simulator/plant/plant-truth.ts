import type { ChargeStage } from "../../service/control/observation.ts";
import type { PlantSettings } from "./plant-settings.ts";

/**
 * What is really so in the shed after a step: means of powers over it, states at its end. One
 * object, overwritten at every step; who wants to keep something copies it.
 */
export interface PlantTruth {
  /** At the step's end. [1] 0…1 */
  socFraction: number;
  /** What the battery's monitor says of it. [1] 0…1 */
  monitorFraction: number;
  batteryVoltageV: number;
  /** Positive: charging. [A] */
  batteryCurrentA: number;
  /** Positive: charging. [W] */
  batteryPowerW: number;
  batteryTemperatureC: number;
  chargeStage: ChargeStage;
  isChargeBlocked: boolean;
  isDischargeBlocked: boolean;
  absorptionsCompleted: number;
  /** What the sources could have given at the battery bus, within their controllers' limits. [W] */
  potentialW: number;
  /** …and what of it the bus took. [W] */
  deliveredW: number;
  /** The arrays' part of the potential. [W] */
  sunPotentialW: number;
  readonly arrayPotentialW: Float64Array;
  readonly arrayDeliveredW: Float64Array;
  /** Those in water first, then those in the wind. */
  readonly turbinePotentialW: Float64Array;
  readonly turbineDeliveredW: Float64Array;
  /** Burnt by each turbine's own dump. [W] ≥ 0 */
  readonly turbineDumpW: Float64Array;
  /** In the sensor's plane, in the shed without ridges; NaN: nothing tells. [W/m²] */
  irradianceWm2: number;
  isGeneratorRunning: boolean;
  /** What its charger gives to the bus; never part of the potential. [W] */
  generatorW: number;
  /** Burnt since the plant was made. [L] */
  generatorFuelL: number;
  isInverterOn: boolean;
  isInverterFaulty: boolean;
  /** AC output. [W] */
  inverterAcW: number;
  inverterDcW: number;
  /** DC power that would not flow without opportunity loads. [W] ≥ 0 */
  opportunityDcW: number;
  /** Asked for by everyday use, and what of it was not served. [W] */
  baseAcW: number;
  unservedW: number;
  /** Commanded and not cut off by an open panel. */
  readonly loadStage: Int32Array;
  /** AC power of each load; 0 too when its own thermostat or switch is open. [W] */
  readonly loadPowerW: Float64Array;
  /** …and its useful part in this step: diverted heat that was used, or the power itself. [W] */
  readonly loadUsefulW: Float64Array;
  /** NaN for loads without a tank. [°C] */
  readonly tankTemperatureC: Float64Array;
  readonly loadFlowLPerMin: Float64Array;
  /** Of the cistern; NaN for loads without one. [1] 0…1 */
  readonly loadLevelFraction: Float64Array;
  readonly loadSourceIsLow: Uint8Array;
  /** Somebody pressed the button beside the sockets in this step. */
  readonly loadIsPressed: Uint8Array;
  readonly panelIsClosed: Uint8Array;
  /** Heat from inverter and battery. [W] */
  inverterLossW: number;
  batteryLossW: number;
}

export function createTruth(settings: PlantSettings): PlantTruth {
  const { arrays, hydro, wind, loads } = settings;
  const turbineCount = hydro.length + wind.length;
  return {
    socFraction: 0,
    monitorFraction: 0,
    batteryVoltageV: 0,
    batteryCurrentA: 0,
    batteryPowerW: 0,
    batteryTemperatureC: 20,
    chargeStage: "bulk",
    isChargeBlocked: false,
    isDischargeBlocked: false,
    absorptionsCompleted: 0,
    potentialW: 0,
    deliveredW: 0,
    sunPotentialW: 0,
    arrayPotentialW: new Float64Array(arrays.length),
    arrayDeliveredW: new Float64Array(arrays.length),
    turbinePotentialW: Float64Array.from({ length: turbineCount }, (_, i) => hydro[i]?.powerW ?? 0),
    turbineDeliveredW: new Float64Array(turbineCount),
    turbineDumpW: new Float64Array(turbineCount),
    irradianceWm2: NaN,
    isGeneratorRunning: false,
    generatorW: 0,
    generatorFuelL: 0,
    isInverterOn: true,
    isInverterFaulty: false,
    inverterAcW: 0,
    inverterDcW: 0,
    opportunityDcW: 0,
    baseAcW: 0,
    unservedW: 0,
    loadStage: new Int32Array(loads.length),
    loadPowerW: new Float64Array(loads.length),
    loadUsefulW: new Float64Array(loads.length),
    tankTemperatureC: new Float64Array(loads.length).fill(NaN),
    loadFlowLPerMin: new Float64Array(loads.length),
    loadLevelFraction: new Float64Array(loads.length).fill(NaN),
    loadSourceIsLow: new Uint8Array(loads.length),
    loadIsPressed: new Uint8Array(loads.length),
    panelIsClosed: new Uint8Array(settings.panelCount),
    inverterLossW: 0,
    batteryLossW: 0,
  };
}
