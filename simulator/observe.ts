import type { SiteSettings } from "../config/site-settings.ts";
import type {
  ChargeStage,
  LoadObservation,
  Observation,
  PanelObservation,
  Quality,
  Reading,
  SourceObservation,
} from "../service/control/observation.ts";
import type { ControlSettings, LoadSettings } from "../service/control/settings.ts";
import type { PlantTruth } from "./plant/plant-truth.ts";

export interface ObservedAt {
  readonly monotonicMs: number;
  readonly wallMs: number;
  readonly localDay: number;
  readonly localMinute: number;
  readonly clockChangeMs: number;
  readonly clockShiftMin: number;
}

const UNMAPPED: Reading = { value: 0, quality: "unmapped", ageMs: 0 };
const UNMAPPED_STAGE: Reading<ChargeStage> = { value: "bulk", quality: "unmapped", ageMs: 0 };
const UNMAPPED_FLAG: Reading<boolean> = { value: false, quality: "unmapped", ageMs: 0 };
const NO: Reading<boolean> = { value: false, quality: "fresh", ageMs: 0 };

/** A reading that follows the truth. */
interface Told<T = number> {
  value: T;
  readonly quality: "fresh";
  readonly ageMs: number;
}

function told<T>(value: T): Told<T> {
  return { value, quality: "fresh", ageMs: 0 };
}

/** One for each thing, not for each reading: a call costs more than what it brings up to date. */
type Refreshes = (() => void)[];

/**
 * The shed as a perfect set of meters would tell it: every signal that the site could have is fresh
 * and exact. What is not simulated (inverter temperature, AC voltage) is unmapped, as it is on many
 * sites.
 *
 * @returns a function that fills one and the same object again at each call: a replayed year makes
 * half a million observations, and who wants to keep one copies it.
 */
export function createObserver(
  site: SiteSettings,
  truth: PlantTruth,
): (at: ObservedAt) => Observation {
  const { control } = site;
  const refreshes: Refreshes = [];
  const observation = {
    monotonicMs: 0,
    wallMs: 0,
    isWallClockPlausible: true,
    localDay: 0,
    localMinute: 0,
    clockChangeMs: 0,
    clockShiftMin: 0,
    isBrokerConnected: true,
    battery: observeBattery(truth, refreshes),
    sources: observeSources(control, truth, refreshes),
    inverter: observeInverter(control, truth, refreshes),
    ...observeGenerator(site, truth, refreshes),
    dcLoadsPowerW: UNMAPPED,
    forecast: { todayWh: UNMAPPED, tomorrowWh: UNMAPPED },
    irradianceWm2: observeIrradiance(control, truth, refreshes),
    unlearn: "none",
    loads: control.loads.map((load, i) => observeLoad({ load, truth, refreshes }, i)),
    panels: control.panels.map((_, i) => observePanel({ control, truth, refreshes }, i)),
  } satisfies Observation;
  return (at) => {
    observation.monotonicMs = at.monotonicMs;
    observation.wallMs = at.wallMs;
    observation.localDay = at.localDay;
    observation.localMinute = at.localMinute;
    observation.clockChangeMs = at.clockChangeMs;
    observation.clockShiftMin = at.clockShiftMin;
    for (let i = 0; i < refreshes.length; i += 1) refreshes[i]?.();
    return observation;
  };
}

function observeBattery(truth: PlantTruth, refreshes: Refreshes): Observation["battery"] {
  const battery = {
    socFraction: told(truth.monitorFraction),
    voltageV: told(truth.batteryVoltageV),
    currentA: told(truth.batteryCurrentA),
    temperatureC: told(truth.batteryTemperatureC),
    chargeStage: told(truth.chargeStage),
    isChargeBlocked: told(truth.isChargeBlocked),
    isDischargeBlocked: told(truth.isDischargeBlocked),
    chargeLimitA: UNMAPPED,
    dischargeLimitA: UNMAPPED,
  };
  refreshes.push(() => {
    battery.socFraction.value = truth.monitorFraction;
    battery.voltageV.value = truth.batteryVoltageV;
    battery.currentA.value = truth.batteryCurrentA;
    battery.temperatureC.value = truth.batteryTemperatureC;
    battery.chargeStage.value = truth.chargeStage;
    battery.isChargeBlocked.value = truth.isChargeBlocked;
    battery.isDischargeBlocked.value = truth.isDischargeBlocked;
  });
  return battery;
}

function observeInverter(
  { inverter }: ControlSettings,
  truth: PlantTruth,
  refreshes: Refreshes,
): Observation["inverter"] {
  const powerW = told(truth.inverterAcW);
  const isFaulty = told(truth.isInverterFaulty);
  refreshes.push(() => {
    powerW.value = truth.inverterAcW;
    isFaulty.value = truth.isInverterFaulty;
  });
  return {
    powerW,
    temperatureC: UNMAPPED,
    acVoltageV: UNMAPPED,
    frequencyHz: UNMAPPED,
    isFaulty,
    legPowersW: inverter.legs.map(() => UNMAPPED),
  };
}

/** A day that tells of no light has none for the sensor. */
function observeIrradiance(
  { irradianceSensor }: ControlSettings,
  truth: PlantTruth,
  refreshes: Refreshes,
): Reading {
  if (irradianceSensor === null) return UNMAPPED;
  const reading: { value: number; quality: Quality; readonly ageMs: number } = { ...UNMAPPED };
  refreshes.push(() => {
    const isKnown = !Number.isNaN(truth.irradianceWm2);
    reading.value = isKnown ? truth.irradianceWm2 : 0;
    reading.quality = isKnown ? "fresh" : "waiting";
  });
  return reading;
}

/** The truth lists each kind in the order in which it stands among the sources. */
function observeSources(
  { sources }: ControlSettings,
  truth: PlantTruth,
  refreshes: Refreshes,
): readonly SourceObservation[] {
  let arrays = 0;
  let inWater = 0;
  let inWind = sources.filter((source) => source.kind === "hydro").length;
  return sources.map(({ kind }) => {
    if (kind === "array") {
      const array = arrays;
      arrays += 1;
      const powerW = told(0);
      refreshes.push(() => {
        powerW.value = truth.arrayDeliveredW[array] ?? 0;
      });
      return { powerW, dumpPowerW: UNMAPPED, chargeStage: UNMAPPED_STAGE };
    }
    const turbine = kind === "hydro" ? inWater : inWind;
    if (kind === "hydro") inWater += 1;
    else inWind += 1;
    const powerW = told(0);
    const dumpPowerW = told(0);
    refreshes.push(() => {
      powerW.value = truth.turbineDeliveredW[turbine] ?? 0;
      dumpPowerW.value = truth.turbineDumpW[turbine] ?? 0;
    });
    return { powerW, dumpPowerW, chargeStage: UNMAPPED_STAGE };
  });
}

function observeGenerator(
  { telemetry }: SiteSettings,
  truth: PlantTruth,
  refreshes: Refreshes,
): Pick<Observation, "isGeneratorRunning" | "generatorPowerW"> {
  const isMapped = (key: string) => telemetry.some((signal) => signal.key === key);
  const isRunning = isMapped("generator.running") ? told(false) : null;
  const powerW = isMapped("generator.power") ? told(0) : null;
  refreshes.push(() => {
    if (isRunning !== null) isRunning.value = truth.isGeneratorRunning;
    if (powerW !== null) powerW.value = truth.generatorW;
  });
  return {
    isGeneratorRunning: isRunning ?? UNMAPPED_FLAG,
    generatorPowerW: powerW ?? UNMAPPED,
  };
}

/** null: the site does not have it. */
interface LoadReadings {
  readonly reportedStage: Told | null;
  readonly powerW: Told | null;
  readonly tankTemperatureC: Told | null;
  readonly flowLPerMin: Told | null;
  readonly isSourceLow: Told<boolean> | null;
  readonly levelFraction: Told | null;
  readonly isPressed: Told<boolean> | null;
}

function observeLoad(
  given: {
    readonly load: LoadSettings;
    readonly truth: PlantTruth;
    readonly refreshes: Refreshes;
  },
  index: number,
): LoadObservation {
  const { load, truth, refreshes } = given;
  const has = readingsOf(load);
  refreshes.push(() => {
    refreshLoad(has, truth, index);
  });
  return {
    reportedStage: has.reportedStage ?? UNMAPPED,
    powerW: has.powerW ?? UNMAPPED,
    isByHand: load.hasByHandInput ? NO : UNMAPPED_FLAG,
    tankTemperatureC: has.tankTemperatureC ?? UNMAPPED,
    flowLPerMin: has.flowLPerMin ?? UNMAPPED,
    isSourceLow: has.isSourceLow ?? UNMAPPED_FLAG,
    levelFraction: has.levelFraction ?? UNMAPPED,
    pipeTemperatureC: UNMAPPED,
    isPressed: has.isPressed ?? UNMAPPED_FLAG,
    request: "none",
    requestForMs: 0,
  };
}

function readingsOf({ hasReport, hasMeter, tank, pump, sockets }: LoadSettings): LoadReadings {
  const dryRun = pump?.dryRun ?? null;
  return {
    reportedStage: hasReport ? told(0) : null,
    powerW: hasMeter ? told(0) : null,
    tankTemperatureC: tank === null ? null : told(0),
    flowLPerMin: dryRun !== null && dryRun.belowLPerMin !== null ? told(0) : null,
    isSourceLow: pump?.hasSourceContact === true ? told(false) : null,
    levelFraction: pump !== null && pump.level !== null ? told(0) : null,
    isPressed: sockets?.hasRequest === true ? told(false) : null,
  };
}

function refreshLoad(has: LoadReadings, truth: PlantTruth, index: number): void {
  const { reportedStage, powerW, tankTemperatureC, flowLPerMin, levelFraction } = has;
  if (reportedStage !== null) reportedStage.value = truth.loadStage[index] ?? 0;
  if (powerW !== null) powerW.value = truth.loadPowerW[index] ?? 0;
  if (tankTemperatureC !== null) tankTemperatureC.value = truth.tankTemperatureC[index] ?? 0;
  if (flowLPerMin !== null) flowLPerMin.value = truth.loadFlowLPerMin[index] ?? 0;
  if (levelFraction !== null) levelFraction.value = truth.loadLevelFraction[index] ?? 0;
  const { isSourceLow, isPressed } = has;
  if (isSourceLow !== null) isSourceLow.value = truth.loadSourceIsLow[index] === 1;
  if (isPressed !== null) isPressed.value = truth.loadIsPressed[index] === 1;
}

function observePanel(
  given: {
    readonly control: ControlSettings;
    readonly truth: PlantTruth;
    readonly refreshes: Refreshes;
  },
  index: number,
): PanelObservation {
  const { control, truth, refreshes } = given;
  const members = [...control.loads.keys()].filter((i) => control.loads[i]?.panelIndex === index);
  const isClosed = control.panels[index]?.hasReport === true ? told(false) : null;
  const powerW = told(0);
  refreshes.push(() => {
    if (isClosed !== null) isClosed.value = truth.panelIsClosed[index] === 1;
    let drawnW = 0;
    for (const member of members) drawnW += truth.loadPowerW[member] ?? 0;
    powerW.value = drawnW;
  });
  return { isClosed: isClosed ?? UNMAPPED_FLAG, powerW, request: "none" };
}
