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
const NO: Reading<boolean> = { value: false, quality: "fresh", ageMs: 0 };

/** Brings one reading up to date with the truth. */
type Refresh = () => void;

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
  const meters = new Meters();
  const observation = {
    monotonicMs: 0,
    wallMs: 0,
    isWallClockPlausible: true,
    localDay: 0,
    localMinute: 0,
    isBrokerConnected: true,
    battery: observeBattery(truth, meters),
    sources: observeSources(control, truth, meters),
    inverter: {
      powerW: meters.add(() => truth.inverterAcW),
      temperatureC: UNMAPPED,
      acVoltageV: UNMAPPED,
      frequencyHz: UNMAPPED,
      isFaulty: meters.add(() => truth.isInverterFaulty),
      legPowersW: control.inverter.legs.map(() => UNMAPPED),
    },
    ...observeGenerator(site, truth, meters),
    dcLoadsPowerW: UNMAPPED,
    forecast: { todayWh: UNMAPPED, tomorrowWh: UNMAPPED },
    unlearn: "none",
    loads: control.loads.map((load, i) => observeLoad({ load, truth, meters }, i)),
    panels: control.panels.map((_, i) => observePanel({ control, truth, meters }, i)),
  } satisfies Observation;
  return (at) => {
    observation.monotonicMs = at.monotonicMs;
    observation.wallMs = at.wallMs;
    observation.localDay = at.localDay;
    observation.localMinute = at.localMinute;
    meters.refresh();
    return observation;
  };
}

/** Readings that follow the truth. */
class Meters {
  readonly #all: Refresh[] = [];

  add<T>(read: () => T): Reading<T> {
    const reading: { value: T; quality: "fresh"; ageMs: number } = {
      value: read(),
      quality: "fresh",
      ageMs: 0,
    };
    this.#all.push(() => {
      reading.value = read();
    });
    return reading;
  }

  refresh(): void {
    for (const refreshOne of this.#all) refreshOne();
  }
}

function observeBattery(truth: PlantTruth, meters: Meters): Observation["battery"] {
  return {
    socFraction: meters.add(() => truth.monitorFraction),
    voltageV: meters.add(() => truth.batteryVoltageV),
    currentA: meters.add(() => truth.batteryCurrentA),
    temperatureC: meters.add(() => truth.batteryTemperatureC),
    chargeStage: meters.add(() => truth.chargeStage),
    isChargeBlocked: meters.add(() => truth.isChargeBlocked),
    isDischargeBlocked: meters.add(() => truth.isDischargeBlocked),
    chargeLimitA: UNMAPPED,
    dischargeLimitA: UNMAPPED,
  };
}

/** The truth lists each kind in the order in which it stands among the sources. */
function observeSources(
  { sources }: ControlSettings,
  truth: PlantTruth,
  meters: Meters,
): readonly SourceObservation[] {
  let arrays = 0;
  let inWater = 0;
  let inWind = sources.filter((source) => source.kind === "hydro").length;
  return sources.map(({ kind }) => {
    if (kind === "array") {
      const array = arrays;
      arrays += 1;
      return {
        powerW: meters.add(() => truth.arrayDeliveredW[array] ?? 0),
        dumpPowerW: UNMAPPED,
        chargeStage: UNMAPPED_STAGE,
      };
    }
    const turbine = kind === "hydro" ? inWater : inWind;
    if (kind === "hydro") inWater += 1;
    else inWind += 1;
    return {
      powerW: meters.add(() => truth.turbineDeliveredW[turbine] ?? 0),
      dumpPowerW: meters.add(() => truth.turbineDumpW[turbine] ?? 0),
      chargeStage: UNMAPPED_STAGE,
    };
  });
}

function observeGenerator(
  { telemetry }: SiteSettings,
  truth: PlantTruth,
  meters: Meters,
): Pick<Observation, "isGeneratorRunning" | "generatorPowerW"> {
  const isMapped = (key: string) => telemetry.some((signal) => signal.key === key);
  return {
    isGeneratorRunning: isMapped("generator.running")
      ? meters.add(() => truth.isGeneratorRunning)
      : UNMAPPED_FLAG,
    generatorPowerW: isMapped("generator.power") ? meters.add(() => truth.generatorW) : UNMAPPED,
  };
}

function observeLoad(
  given: { readonly load: LoadSettings; readonly truth: PlantTruth; readonly meters: Meters },
  index: number,
): LoadObservation {
  const { load, truth, meters } = given;
  const { pump, sockets } = load;
  const hasLevel = pump !== null && pump.level !== null;
  const dryRun = pump?.dryRun ?? null;
  const hasFlow = dryRun !== null && dryRun.belowLPerMin !== null;
  return {
    reportedStage: load.hasReport ? meters.add(() => truth.loadStage[index] ?? 0) : UNMAPPED,
    powerW: load.hasMeter ? meters.add(() => truth.loadPowerW[index] ?? 0) : UNMAPPED,
    isByHand: load.hasByHandInput ? NO : UNMAPPED_FLAG,
    tankTemperatureC:
      load.tank === null ? UNMAPPED : meters.add(() => truth.tankTemperatureC[index] ?? 0),
    flowLPerMin: hasFlow ? meters.add(() => truth.loadFlowLPerMin[index] ?? 0) : UNMAPPED,
    isSourceLow:
      pump?.hasSourceContact === true
        ? meters.add(() => truth.loadSourceIsLow[index] === 1)
        : UNMAPPED_FLAG,
    levelFraction: hasLevel ? meters.add(() => truth.loadLevelFraction[index] ?? 0) : UNMAPPED,
    pipeTemperatureC: UNMAPPED,
    isPressed:
      sockets?.hasRequest === true
        ? meters.add(() => truth.loadIsPressed[index] === 1)
        : UNMAPPED_FLAG,
    request: "none",
    requestForMs: 0,
  };
}

function observePanel(
  given: {
    readonly control: ControlSettings;
    readonly truth: PlantTruth;
    readonly meters: Meters;
  },
  index: number,
): PanelObservation {
  const { control, truth, meters } = given;
  const members = [...control.loads.keys()].filter((i) => control.loads[i]?.panelIndex === index);
  const hasReport = control.panels[index]?.hasReport === true;
  return {
    isClosed: hasReport ? meters.add(() => truth.panelIsClosed[index] === 1) : UNMAPPED_FLAG,
    powerW: meters.add(() => members.reduce((sum, i) => sum + (truth.loadPowerW[i] ?? 0), 0)),
    request: "none",
  };
}
