import type { SiteSettings } from "../config/site-settings.ts";
import type {
  ChargeStage,
  LoadObservation,
  Observation,
  PanelObservation,
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
}

const UNMAPPED: Reading = { value: 0, quality: "unmapped", ageMs: 0 };
const UNMAPPED_STAGE: Reading<ChargeStage> = { value: "bulk", quality: "unmapped", ageMs: 0 };
const UNMAPPED_FLAG: Reading<boolean> = { value: false, quality: "unmapped", ageMs: 0 };

/**
 * The shed as a perfect set of meters would tell it: every signal that the site could have is fresh
 * and exact. What is not simulated (inverter temperature, AC voltage) is unmapped, as it is on many
 * sites.
 */
export function observe(site: SiteSettings, truth: PlantTruth, at: ObservedAt): Observation {
  const { control } = site;
  return {
    monotonicMs: at.monotonicMs,
    wallMs: at.wallMs,
    isWallClockPlausible: true,
    localDay: at.localDay,
    localMinute: at.localMinute,
    isBrokerConnected: true,
    battery: {
      socFraction: fresh(truth.socFraction),
      voltageV: fresh(truth.batteryVoltageV),
      currentA: fresh(truth.batteryCurrentA),
      temperatureC: fresh(truth.batteryTemperatureC),
      chargeStage: fresh(truth.chargeStage),
      isChargeBlocked: freshFlag(truth.isChargeBlocked),
      isDischargeBlocked: freshFlag(truth.isDischargeBlocked),
      chargeLimitA: UNMAPPED,
      dischargeLimitA: UNMAPPED,
    },
    sources: control.sources.map((_, i) => observeSource(truth, i)),
    inverter: {
      powerW: fresh(truth.inverterAcW),
      temperatureC: UNMAPPED,
      acVoltageV: UNMAPPED,
      frequencyHz: UNMAPPED,
      isFaulty: freshFlag(truth.isInverterFaulty),
      legPowersW: control.inverter.legs.map(() => UNMAPPED),
    },
    isGeneratorRunning: UNMAPPED_FLAG,
    generatorPowerW: UNMAPPED,
    dcLoadsPowerW: UNMAPPED,
    loads: control.loads.map((load, i) => observeLoad(load, truth, i)),
    panels: control.panels.map((_, i) => observePanel(control, truth, i)),
  };
}

function observeSource(truth: PlantTruth, index: number): SourceObservation {
  return {
    powerW: fresh(truth.arrayDeliveredW[index] ?? 0),
    dumpPowerW: UNMAPPED,
    chargeStage: UNMAPPED_STAGE,
  };
}

function observeLoad(load: LoadSettings, truth: PlantTruth, index: number): LoadObservation {
  return {
    reportedStage: load.hasReport ? fresh(truth.loadStage[index] ?? 0) : UNMAPPED,
    powerW: load.hasMeter ? fresh(truth.loadPowerW[index] ?? 0) : UNMAPPED,
    isByHand: load.hasByHandInput ? freshFlag(false) : UNMAPPED_FLAG,
    tankTemperatureC: load.tank === null ? UNMAPPED : fresh(truth.tankTemperatureC[index] ?? 0),
    flowLPerMin: UNMAPPED,
    isSourceLow: UNMAPPED_FLAG,
    levelFraction: UNMAPPED,
    pipeTemperatureC: UNMAPPED,
    isPressed: UNMAPPED_FLAG,
    request: "none",
  };
}

function observePanel(
  control: ControlSettings,
  truth: PlantTruth,
  index: number,
): PanelObservation {
  const members = control.loads;
  const hasReport = control.panels[index]?.hasReport === true;
  let powerW = 0;
  for (let i = 0; i < members.length; i += 1) {
    if (members[i]?.panelIndex === index) powerW += truth.loadPowerW[i] ?? 0;
  }
  return {
    isClosed: hasReport ? freshFlag(truth.panelIsClosed[index] === 1) : UNMAPPED_FLAG,
    powerW: fresh(powerW),
    request: "none",
  };
}

const YES: Reading<boolean> = { value: true, quality: "fresh", ageMs: 0 };
const NO: Reading<boolean> = { value: false, quality: "fresh", ageMs: 0 };

function freshFlag(isSo: boolean): Reading<boolean> {
  return isSo ? YES : NO;
}

function fresh<T>(value: T): Reading<T> {
  return { value, quality: "fresh", ageMs: 0 };
}
