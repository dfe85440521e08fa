/**
 * The rig's view of the simulated plant: each signal of the dictionary, read from its truth.
 *
 * The plant has no model of the AC side's voltage and frequency, nor of the inverter's temperature:
 * a site that maps them is told steady values in the middle of its own limits, so that its
 * interlocks are fed but never tripped by them.
 */
import type { SignalKey } from "../config/signals.ts";
import type { ControlSettings } from "../service/control/settings.ts";
import type { Positions } from "./actuators.ts";
import type { SignalValue } from "./encoding.ts";
import type { Plant, PlantInput } from "./plant/plant.ts";
import type { PlantTruth } from "./plant/plant-truth.ts";
import type { PlantSide } from "./rig.ts";

/** What is steady because nothing models it; [V], [Hz] and [°C], common practice, no source. */
const STEADY = { acVoltageV: 230, frequencyHz: 50, inverterTemperatureC: 35 } as const;

export interface PlantSideOptions {
  readonly control: ControlSettings;
  readonly plant: Plant;
  /** Weather and household for the step that begins now and lasts `dtMs`. */
  readonly inputFor: (dtMs: number, positions: Positions) => PlantInput;
}

export function createPlantSide({ control, plant, inputFor }: PlantSideOptions): PlantSide {
  return {
    advance: (dtMs, positions) => plant.step(dtMs / 1000, inputFor(dtMs, positions)),
    read: (key, ownerId) => readTruth(plant.truth, { control, key, ownerId }),
  };
}

interface Question {
  readonly control: ControlSettings;
  readonly key: SignalKey;
  readonly ownerId: string | null;
}

function readTruth(truth: PlantTruth, question: Question): SignalValue | null {
  const { control, key, ownerId } = question;
  switch (key) {
    case "battery.soc":
      return truth.monitorFraction;
    case "battery.voltage":
      return truth.batteryVoltageV;
    case "battery.current":
      return truth.batteryCurrentA;
    case "battery.temperature":
      return truth.batteryTemperatureC;
    case "battery.chargeStage":
      return truth.chargeStage;
    case "battery.chargeBlocked":
      return truth.isChargeBlocked;
    case "battery.dischargeBlocked":
      return truth.isDischargeBlocked;
    case "array.{id}.power":
      return sourceValue(truth.arrayDeliveredW, "array", question);
    case "array.{id}.chargeStage":
      return truth.chargeStage;
    case "hydro.{id}.power":
      return sourceValue(truth.turbineDeliveredW, "hydro", question);
    case "hydro.{id}.dumpPower":
      return sourceValue(truth.turbineDumpW, "hydro", question);
    case "wind.{id}.power":
      return sourceValue(truth.turbineDeliveredW, "wind", question);
    case "wind.{id}.dumpPower":
      return sourceValue(truth.turbineDumpW, "wind", question);
    case "inverter.power":
      return truth.inverterAcW;
    case "inverter.temperature":
      return STEADY.inverterTemperatureC;
    case "inverter.acVoltage":
      return truth.isInverterOn ? acVoltageV(control) : 0;
    case "inverter.frequency":
      return truth.isInverterOn ? frequencyHz(control) : 0;
    case "inverter.fault":
      return truth.isInverterFaulty;
    case "dcLoads.power":
      return 0;
    case "generator.running":
      return truth.isGeneratorRunning;
    case "generator.power":
      return truth.generatorW;
    case "sky.irradiance":
      return Number.isNaN(truth.irradianceWm2) ? null : truth.irradianceWm2;
    case "leg.{id}.power":
      return truth.inverterAcW / Math.max(1, control.inverter.legs.length);
    case "load.{id}.power":
      return loadValue(truth.loadPowerW, question);
    case "load.{id}.tankTemperature":
      return loadValue(truth.tankTemperatureC, question);
    case "load.{id}.flow":
    case "load.{id}.level":
    case "load.{id}.sourceLow":
    case "load.{id}.pressed":
      return loadSignal(truth, key, question);
    case "panel.{id}.power":
      return panelPowerW(truth, control, ownerId);
    default:
      // Reports are the actuators' business; pipes have no model.
      return null;
  }
}

/** The truth lists each kind in the order in which it stands among the sources. */
function sourceValue(
  values: Float64Array,
  ofKind: "array" | "hydro" | "wind",
  { control, ownerId }: Question,
): number | null {
  const alike = control.sources.filter(({ kind }) => kind === ofKind);
  const place = alike.findIndex(({ id }) => id === ownerId);
  // Turbines stand in one list, those in water first.
  const before = ofKind === "wind" ? control.sources.filter(isHydro).length : 0;
  return place < 0 ? null : (values[before + place] ?? null);
}

function isHydro({ kind }: ControlSettings["sources"][number]): boolean {
  return kind === "hydro";
}

function loadSignal(
  truth: PlantTruth,
  key: "load.{id}.flow" | "load.{id}.level" | "load.{id}.sourceLow" | "load.{id}.pressed",
  question: Question,
): SignalValue | null {
  switch (key) {
    case "load.{id}.flow":
      return loadValue(truth.loadFlowLPerMin, question);
    case "load.{id}.level":
      return loadValue(truth.loadLevelFraction, question);
    case "load.{id}.sourceLow":
      return loadValue(truth.loadSourceIsLow, question) === 1;
    case "load.{id}.pressed":
      return loadValue(truth.loadIsPressed, question) === 1;
  }
}

function loadValue(
  values: Float64Array | Uint8Array,
  { control, ownerId }: Question,
): number | null {
  const value = values[control.loads.findIndex(({ id }) => id === ownerId)];
  return value === undefined || Number.isNaN(value) ? null : value;
}

function panelPowerW(
  truth: PlantTruth,
  { panels, loads }: ControlSettings,
  ownerId: string | null,
): number | null {
  const panelIndex = panels.findIndex(({ id }) => id === ownerId);
  if (panelIndex < 0) return null;
  let totalW = 0;
  for (const [index, load] of loads.entries()) {
    if (load.panelIndex === panelIndex) totalW += truth.loadPowerW[index] ?? 0;
  }
  return totalW;
}

function acVoltageV({ inverter: { acVoltage } }: ControlSettings): number {
  return acVoltage === null ? STEADY.acVoltageV : (acVoltage.minV + acVoltage.maxV) / 2;
}

function frequencyHz({ inverter: { frequency } }: ControlSettings): number {
  return frequency === null ? STEADY.frequencyHz : (frequency.minHz + frequency.maxHz) / 2;
}
