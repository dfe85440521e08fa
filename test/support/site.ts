/** A small valid site in code: the upland dairy with one sub-panel, a staged and a switched load. */
import type { SignalKey } from "../../config/signals.ts";
import { SIGNALS } from "../../config/signals.ts";
import type {
  ActuatorSettings,
  BrokerSettings,
  Decoding,
  HistorySettings,
  SignalSettings,
  SiteSettings,
} from "../../config/site-settings.ts";
import { NO_TLS_FILES } from "../../service/broker/access.ts";
import type { ControlSettings, LoadSettings } from "../../service/control/settings.ts";
import { signalOfOne } from "./signal.ts";

export const LOOPBACK = "127.0.0.1";

/** An embedded broker that is open to this machine, on any free port. */
export const OPEN_EMBEDDED = { host: LOOPBACK, port: 0, users: null, tls: null };

export function testSite(overrides: Partial<SiteSettings> = {}): SiteSettings {
  return {
    id: "malga",
    label: "Malga",
    timeZone: "Europe/Rome",
    control: testControl(),
    broker: testBroker(null),
    web: {
      host: LOOPBACK,
      port: 0,
      tokenFile: "token-file-of-this-test",
      reading: "token",
      isEditable: false,
    },
    history: testHistory("history-folder-of-this-test"),
    telemetry: [
      testSignal("battery.soc", { topic: "shed/battery", field: "/soc", scale: 0.01 }),
      testSignal("battery.voltage", { topic: "shed/battery", field: "/v" }),
      testSignal("battery.current", { topic: "shed/battery", field: "/i", staleMs: 30_000 }),
      testSignal("inverter.power", { topic: "shed/inverter", field: "/ac/w", staleMs: 30_000 }),
      testSignal("array.{id}.power", { topic: "shed/roof/w", ownerId: "roof" }),
      testSignal("load.{id}.tankTemperature", { topic: "shed/tank/c", ownerId: "water-heater" }),
      testSignal("load.{id}.report", {
        topic: "shed/heater",
        field: "/stage",
        ownerId: "water-heater",
      }),
      testSignal("panel.{id}.report", {
        topic: "shed/contactor",
        ownerId: "surplus",
        decoding: { kind: "booleanTable", table: { "1": true, "0": false } },
      }),
    ],
    actuators: testActuators(),
    appliances: [],
    warnings: [],
    ...overrides,
  };
}

export function testHistory(folder: string): HistorySettings {
  return {
    folder,
    samplesKeptDays: 400,
    eventsKeptDays: 1_826,
    journalKeptDays: 14,
    journalMaxBytes: 200_000_000,
  };
}

export function testBroker(
  url: string | null,
  protocolVersion: BrokerSettings["protocolVersion"] = 5,
): BrokerSettings {
  return {
    url,
    embedded: url === null ? OPEN_EMBEDDED : null,
    protocolVersion,
    username: null,
    passwordFile: null,
    tls: NO_TLS_FILES,
    acceptsRequests: false,
  };
}

export function testSignal(
  key: SignalKey,
  how: {
    readonly topic: string;
    readonly field?: string;
    readonly ownerId?: string;
    readonly scale?: number;
    readonly staleMs?: number;
    readonly decoding?: Decoding;
  },
): SignalSettings {
  const { min, max, staleMs } = SIGNALS[key];
  return signalOfOne({
    key,
    ownerId: how.ownerId ?? null,
    topic: how.topic,
    field: how.field ?? null,
    decoding: how.decoding ?? { kind: "number", scale: how.scale ?? 1, offset: 0 },
    min,
    max,
    staleMs: how.staleMs ?? staleMs,
  });
}

export function testActuators(): ActuatorSettings[] {
  const timing = { repeatMs: 30_000, holdMs: 90_000 };
  return [
    {
      kind: "load",
      index: 0,
      id: "water-heater",
      topic: "shed/heater/set",
      payloads: ['{"stage":0}', '{"stage":1}', '{"stage":2}'],
      setPoint: null,
      ...timing,
    },
    {
      kind: "load",
      index: 1,
      id: "spring-pump",
      topic: "shed/pump/set",
      payloads: ["0", "1"],
      setPoint: null,
      ...timing,
    },
    {
      kind: "panel",
      index: 0,
      id: "surplus",
      topic: "shed/contactor/set",
      payloads: ["0", "1"],
      setPoint: null,
      ...timing,
    },
  ];
}

export function testControl(): ControlSettings {
  return {
    tickMs: 2_000,
    latitudeDeg: 44.2,
    longitudeDeg: 6.9,
    elevationM: 1350,
    battery: {
      chemistry: "lfp",
      capacityAh: 400,
      ratedHours: 5,
      peukertExponent: 1,
      coulombicEfficiencyFraction: 0.99,
      nominalVoltageV: 51.2,
      floorFraction: 0.6,
      floorMarginFraction: 0.01,
      sunsetTargetFraction: 0.92,
      reserveNights: 0,
      absorptionVoltageV: 56.8,
      floatVoltageV: 54,
      compensationVPerK: 0,
      tailCurrentA: 8,
      fullAfterMs: 600_000,
      lowVoltageV: 48,
      highVoltageV: 58,
      resistanceOhm: 0.01,
      voltageMode: null,
      socDisagreementFraction: 0.1,
      fullChargeEveryDays: null,
      toleranceW: 100,
      chargeLimitA: null,
      dischargeLimitA: null,
      socFollowsOverFraction: null,
    },
    sources: [
      { id: "roof", kind: "array", peakW: 6600, tiltDeg: 38, azimuthDeg: 172, currentLimitA: null },
    ],
    irradianceSensor: null,
    inverter: {
      continuousW: 8000,
      continuousVA: 8000,
      derating: null,
      maxInputV: null,
      legs: [],
      surgeVA: 16_000,
      idleW: 35,
      efficiencyFraction: 0.92,
      temperatureMaxC: null,
      acVoltage: null,
      frequency: null,
    },
    ruleCurve: { kind: "fixed", atFraction: 0.94 },
    balance: null,
    panels: [
      { id: "surplus", feederMaxW: 7360, hasReport: true, settleMs: 5_000, openAfterMs: 600_000 },
    ],
    loads: [
      testLoad({
        id: "water-heater",
        label: "Water heater",
        panelIndex: 0,
        stagesW: [1000, 2000],
        tank: { surplusC: 68, hysteresisK: 4, limitC: 75, volumeL: null },
        hasReport: true,
      }),
      testLoad({ id: "spring-pump", label: "Spring pump", priority: 2, stagesW: [750] }),
    ],
    staggerMs: 10_000,
  };
}

/** A load as most tests want it; `own` says what the test is about. */
export function testLoad(
  own: Partial<LoadSettings> & Pick<LoadSettings, "id" | "label">,
): LoadSettings {
  return {
    panelIndex: null,
    priority: 1,
    stagesW: [1000],
    modulating: null,
    powerFactor: 1,
    startPowerVA: null,
    startPowerMs: 0,
    legIndex: null,
    isTolerant: false,
    startAboveFraction: 0.02,
    startForMs: 120_000,
    stopBelowFraction: 0.02,
    stopForMs: 60_000,
    minRunMs: 600_000,
    minRestMs: 300_000,
    startsPerHourMax: null,
    startsPerDayMax: null,
    windows: [],
    quotaRunMs: null,
    quotaEnergyWh: null,
    deadline: null,
    tank: null,
    pump: null,
    sockets: null,
    settleMs: 10_000,
    hasReport: false,
    hasMeter: false,
    hasByHandInput: false,
    latchAfter: 3,
    mayLoadGenerator: false,
    ...own,
  };
}
