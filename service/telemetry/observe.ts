/** From the table of latest values to what one tick knows, in the order of the settings. */
import type {
  ChargeStage,
  HumanRequest,
  LoadObservation,
  LoadRequest,
  Observation,
  Reading,
  Unlearn,
} from "../control/observation.ts";
import type { ControlSettings, SourceSettings } from "../control/settings.ts";
import type { LatestTable } from "./latest.ts";

const NO_STAGE: Reading<ChargeStage> = { value: "bulk", quality: "unmapped", ageMs: 0 };

export interface Circumstances {
  readonly monotonicMs: number;
  readonly wallMs: number;
  readonly isWallClockPlausible: boolean;
  readonly localDay: number;
  readonly localMinute: number;
  readonly clockChangeMs: number;
  readonly clockShiftMin: number;
  readonly isBrokerConnected: boolean;
  /** What people asked for since the tick before. */
  readonly loadRequest: (id: string) => {
    readonly request: LoadRequest;
    /** [ms] ≥ 0 */
    readonly forMs: number;
  };
  readonly panelRequest: (id: string) => HumanRequest;
  readonly unlearn: Unlearn;
}

export function readObservation(
  table: LatestTable,
  control: ControlSettings,
  { loadRequest, panelRequest, ...time }: Circumstances,
): Observation {
  return {
    ...time,
    battery: {
      socFraction: table.readNumber("battery.soc", null),
      voltageV: table.readNumber("battery.voltage", null),
      currentA: table.readNumber("battery.current", null),
      temperatureC: table.readNumber("battery.temperature", null),
      chargeStage: table.readStage("battery.chargeStage", null),
      isChargeBlocked: table.readBoolean("battery.chargeBlocked", null),
      isDischargeBlocked: table.readBoolean("battery.dischargeBlocked", null),
      chargeLimitA: table.readNumber("battery.chargeLimit", null),
      dischargeLimitA: table.readNumber("battery.dischargeLimit", null),
    },
    sources: control.sources.map((source) => readSource(table, source)),
    inverter: {
      powerW: table.readNumber("inverter.power", null),
      temperatureC: table.readNumber("inverter.temperature", null),
      acVoltageV: table.readNumber("inverter.acVoltage", null),
      frequencyHz: table.readNumber("inverter.frequency", null),
      isFaulty: table.readBoolean("inverter.fault", null),
      legPowersW: control.inverter.legs.map(({ id }) => table.readNumber("leg.{id}.power", id)),
    },
    isGeneratorRunning: table.readBoolean("generator.running", null),
    generatorPowerW: table.readNumber("generator.power", null),
    dcLoadsPowerW: table.readNumber("dcLoads.power", null),
    forecast: {
      todayWh: table.readNumber("forecast.today", null),
      tomorrowWh: table.readNumber("forecast.tomorrow", null),
    },
    irradianceWm2: table.readNumber("sky.irradiance", null),
    loads: control.loads.map(({ id }) => readLoad(table, id, loadRequest(id))),
    panels: control.panels.map(({ id }) => ({
      isClosed: table.readBoolean("panel.{id}.report", id),
      powerW: table.readNumber("panel.{id}.power", id),
      request: panelRequest(id),
    })),
  };
}

function readLoad(
  table: LatestTable,
  id: string,
  { request, forMs }: ReturnType<Circumstances["loadRequest"]>,
): LoadObservation {
  return {
    reportedStage: table.readNumber("load.{id}.report", id),
    powerW: table.readNumber("load.{id}.power", id),
    isByHand: table.readBoolean("load.{id}.byHand", id),
    tankTemperatureC: table.readNumber("load.{id}.tankTemperature", id),
    flowLPerMin: table.readNumber("load.{id}.flow", id),
    isSourceLow: table.readBoolean("load.{id}.sourceLow", id),
    levelFraction: table.readNumber("load.{id}.level", id),
    pipeTemperatureC: table.readNumber("load.{id}.pipeTemperature", id),
    isPressed: table.readBoolean("load.{id}.pressed", id),
    request,
    requestForMs: forMs,
  };
}

function readSource(
  table: LatestTable,
  { kind, id }: SourceSettings,
): Observation["sources"][number] {
  switch (kind) {
    case "array":
      return {
        powerW: table.readNumber("array.{id}.power", id),
        dumpPowerW: { value: 0, quality: "unmapped", ageMs: 0 },
        chargeStage: table.readStage("array.{id}.chargeStage", id),
      };
    case "hydro":
      return {
        powerW: table.readNumber("hydro.{id}.power", id),
        dumpPowerW: table.readNumber("hydro.{id}.dumpPower", id),
        chargeStage: NO_STAGE,
      };
    case "wind":
      return {
        powerW: table.readNumber("wind.{id}.power", id),
        dumpPowerW: table.readNumber("wind.{id}.dumpPower", id),
        chargeStage: NO_STAGE,
      };
  }
}
