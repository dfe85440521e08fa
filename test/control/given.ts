/** A small valid site and its observations, for tests of the core. */
import type { Memory } from "../../service/control/memory.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type {
  ChargeStage,
  LoadObservation,
  Observation,
  PanelObservation,
  Quality,
  Reading,
} from "../../service/control/observation.ts";
import type {
  BatterySettings,
  ControlSettings,
  LoadSettings,
  PanelSettings,
} from "../../service/control/settings.ts";
import { step } from "../../service/control/step.ts";
import type { Decision } from "../../service/control/decision.ts";

export const MINUTE_MS = 60_000;
export const HOUR_MS = 3_600_000;
export const TICK_MS = 10_000;
/** 2026-06-21T00:00 in Europe/Rome, as UTC. */
export const MIDNIGHT_MS = Date.UTC(2026, 5, 20, 22);

export function lfpBattery(over: Partial<BatterySettings> = {}): BatterySettings {
  return {
    chemistry: "lfp",
    capacityAh: 400,
    ratedHours: 20,
    peukertExponent: 1,
    coulombicEfficiencyFraction: 0.99,
    nominalVoltageV: 51.2,
    floorFraction: 0.6,
    floorMarginFraction: 0.01,
    sunsetTargetFraction: 0.92,
    reserveNights: 0,
    absorptionVoltageV: 56,
    floatVoltageV: 54,
    compensationVPerK: 0,
    tailCurrentA: 8,
    fullAfterMs: 10 * MINUTE_MS,
    lowVoltageV: 48,
    highVoltageV: 58,
    resistanceOhm: 0.01,
    voltageMode: null,
    socDisagreementFraction: 0.05,
    fullChargeEveryDays: null,
    toleranceW: 100,
    chargeLimitA: null,
    dischargeLimitA: null,
    socFollowsOverFraction: null,
    ...over,
  };
}

export function floodedBattery(over: Partial<BatterySettings> = {}): BatterySettings {
  return lfpBattery({
    chemistry: "flooded",
    peukertExponent: 1.25,
    coulombicEfficiencyFraction: 0.9,
    nominalVoltageV: 48,
    absorptionVoltageV: 58.4,
    floatVoltageV: 54,
    compensationVPerK: -0.096,
    highVoltageV: null,
    voltageMode: { startV: 51.2, stopV: 49.2 },
    ...over,
  });
}

export function load(over: Partial<LoadSettings> = {}): LoadSettings {
  return {
    id: "heater",
    label: "Water heater",
    panelIndex: null,
    priority: 1,
    stagesW: [1000, 2000],
    modulating: null,
    deadline: null,
    powerFactor: 1,
    startPowerVA: null,
    startPowerMs: 0,
    legIndex: null,
    isTolerant: false,
    startAboveFraction: 0.02,
    startForMs: 2 * MINUTE_MS,
    stopBelowFraction: 0.02,
    stopForMs: MINUTE_MS,
    minRunMs: 10 * MINUTE_MS,
    minRestMs: 5 * MINUTE_MS,
    startsPerHourMax: null,
    startsPerDayMax: null,
    windows: [],
    quotaRunMs: null,
    quotaEnergyWh: null,
    tank: null,
    pump: null,
    sockets: null,
    settleMs: 20_000,
    hasReport: true,
    hasMeter: false,
    hasByHandInput: false,
    latchAfter: 3,
    mayLoadGenerator: false,
    ...over,
  };
}

export function panel(over: Partial<PanelSettings> = {}): PanelSettings {
  return {
    id: "surplus",
    feederMaxW: 7360,
    hasReport: true,
    settleMs: 20_000,
    openAfterMs: 5 * MINUTE_MS,
    ...over,
  };
}

export function site(over: Partial<ControlSettings> = {}): ControlSettings {
  return {
    tickMs: TICK_MS,
    latitudeDeg: 44.2,
    longitudeDeg: 6.9,
    elevationM: 1350,
    battery: lfpBattery(),
    sources: [
      {
        id: "roof",
        kind: "array",
        peakW: 6600,
        tiltDeg: 38,
        azimuthDeg: 172,
        currentLimitA: null,
      },
    ],
    irradianceSensor: null,
    inverter: {
      continuousW: 8000,
      continuousVA: 8000,
      derating: null,
      maxInputV: null,
      legs: [],
      surgeVA: 16000,
      idleW: 35,
      efficiencyFraction: 0.92,
      temperatureMaxC: null,
      acVoltage: null,
      frequency: null,
    },
    ruleCurve: { kind: "fixed", atFraction: 0.94 },
    balance: null,
    panels: [],
    loads: [load()],
    staggerMs: 30_000,
    ...over,
  };
}

export function fresh<T>(value: T, ageMs = 0): Reading<T> {
  return { value, quality: "fresh", ageMs };
}

export function lost<T>(value: T, quality: Quality = "stale"): Reading<T> {
  return { value, quality, ageMs: 600_000 };
}

export const unmapped: Reading = { value: 0, quality: "unmapped", ageMs: 0 };
export const unmappedStage: Reading<ChargeStage> = {
  value: "bulk",
  quality: "unmapped",
  ageMs: 0,
};
export const unmappedFlag: Reading<boolean> = { value: false, quality: "unmapped", ageMs: 0 };

export function loadObservation(over: Partial<LoadObservation> = {}): LoadObservation {
  return {
    reportedStage: fresh(0),
    powerW: unmapped,
    isByHand: unmappedFlag,
    tankTemperatureC: unmapped,
    flowLPerMin: unmapped,
    isSourceLow: unmappedFlag,
    levelFraction: unmapped,
    pipeTemperatureC: unmapped,
    isPressed: unmappedFlag,
    request: "none",
    requestForMs: 0,
    ...over,
  };
}

export function panelObservation(over: Partial<PanelObservation> = {}): PanelObservation {
  return { isClosed: fresh(false), powerW: unmapped, request: "none", ...over };
}

export interface Scene {
  readonly socFraction?: number;
  readonly voltageV?: number;
  readonly currentA?: number;
  readonly inverterW?: number;
  readonly arrayW?: number;
  /** Any part of the observation, last. */
  readonly over?: Partial<Observation>;
  readonly battery?: Partial<Observation["battery"]>;
  readonly inverter?: Partial<Observation["inverter"]>;
  readonly loads?: readonly LoadObservation[];
  readonly panels?: readonly PanelObservation[];
}

/** Noon on a midsummer day, 97 % and 2.8 kW going into the battery, unless the scene says else. */
export function observe(settings: ControlSettings, atMs: number, scene: Scene = {}): Observation {
  const sinceMidnightMs = 12 * HOUR_MS + atMs;
  const wallMs = MIDNIGHT_MS + sinceMidnightMs;
  return {
    monotonicMs: atMs,
    wallMs,
    isWallClockPlausible: true,
    localDay: 20_625 + Math.floor(sinceMidnightMs / (24 * HOUR_MS)),
    localMinute: Math.floor(sinceMidnightMs / MINUTE_MS) % 1440,
    clockChangeMs: 0,
    clockShiftMin: 0,
    isBrokerConnected: true,
    battery: {
      socFraction: fresh(scene.socFraction ?? 0.97),
      voltageV: fresh(scene.voltageV ?? 54),
      currentA: fresh(scene.currentA ?? 52),
      temperatureC: unmapped,
      chargeStage: unmappedStage,
      isChargeBlocked: unmappedFlag,
      isDischargeBlocked: unmappedFlag,
      chargeLimitA: unmapped,
      dischargeLimitA: unmapped,
      ...scene.battery,
    },
    sources: settings.sources.map(() => ({
      powerW: fresh(scene.arrayW ?? 3200),
      dumpPowerW: unmapped,
      chargeStage: unmappedStage,
    })),
    inverter: {
      powerW: fresh(scene.inverterW ?? 300),
      temperatureC: unmapped,
      acVoltageV: unmapped,
      frequencyHz: unmapped,
      isFaulty: unmappedFlag,
      legPowersW: settings.inverter.legs.map(() => unmapped),
      ...scene.inverter,
    },
    isGeneratorRunning: unmappedFlag,
    generatorPowerW: unmapped,
    unlearn: "none",
    dcLoadsPowerW: unmapped,
    forecast: { todayWh: unmapped, tomorrowWh: unmapped },
    irradianceWm2: unmapped,
    loads: scene.loads ?? settings.loads.map(() => loadObservation()),
    panels: scene.panels ?? settings.panels.map(() => panelObservation()),
    ...scene.over,
  };
}

/**
 * A run of ticks with actuators that obey: each tick's scene may depend on what is commanded now.
 * Reports follow the command of the tick before.
 */
export class Run {
  readonly settings: ControlSettings;
  memory: Memory;
  atMs = 0;
  decision: Decision | null = null;

  constructor(settings: ControlSettings) {
    this.settings = settings;
    this.memory = initialMemory(settings, 0);
  }

  get stages(): readonly number[] {
    return this.memory.loads.map((memory) => memory.stage);
  }

  /** Obedient reports for the present command, each changed by `over`. */
  loads(over: Partial<LoadObservation> = {}): LoadObservation[] {
    return this.memory.loads.map((memory) =>
      loadObservation({ reportedStage: fresh(memory.stage), ...over }),
    );
  }

  tick(scene: Scene = {}): Decision {
    this.atMs += TICK_MS;
    const panels = this.memory.panels.map((memory) =>
      panelObservation({ isClosed: fresh(memory.isClosed) }),
    );
    const observation = observe(this.settings, this.atMs, {
      loads: this.loads(),
      panels,
      ...scene,
    });
    const result = step(this.memory, observation, this.settings);
    this.memory = result.memory;
    this.decision = result.decision;
    return result.decision;
  }

  /** Ticks for a while; returns the last decision. */
  during(durationMs: number, scene: Scene | (() => Scene) = {}): Decision {
    let decision = this.tick(typeof scene === "function" ? scene() : scene);
    const endMs = this.atMs + durationMs - TICK_MS;
    while (this.atMs < endMs) decision = this.tick(typeof scene === "function" ? scene() : scene);
    return decision;
  }
}
