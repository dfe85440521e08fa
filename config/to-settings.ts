/** From a file that has passed all checks to what the service runs on. */
import { dirname, resolve } from "node:path";
import type { ControlSettings, LoadSettings, PanelSettings } from "../service/control/settings.ts";
import type { SourceSettings } from "../service/control/settings.ts";
import type { LoadSection, PanelSection, SettingsFile } from "./schema.ts";
import type { ActuatorSettings, BrokerSettings, SignalSettings } from "./site-settings.ts";
import type { SiteSettings, WebSettings } from "./site-settings.ts";
import { toBattery } from "./to-battery.ts";

export interface CheckedFile {
  readonly file: SettingsFile;
  /** Relative files are looked for beside it. */
  readonly fileName: string;
  readonly signals: readonly SignalSettings[];
  readonly warnings: readonly string[];
}

export function toSettings({ file, fileName, signals, warnings }: CheckedFile): SiteSettings {
  const folder = dirname(resolve(fileName));
  return {
    id: file.site.id,
    label: file.site.label ?? file.site.id,
    timeZone: file.site.timeZone,
    control: toControl(file),
    broker: toBroker(file, folder),
    web: toWeb(file, folder),
    telemetry: signals,
    actuators: [...file.loads.map(loadActuator), ...file.panels.map(panelActuator)],
    warnings,
  };
}

function toControl(file: SettingsFile): ControlSettings {
  const panelIds = file.panels.map((panel) => panel.id);
  return {
    tickMs: file.site.tick,
    latitudeDeg: file.site.latitude,
    longitudeDeg: file.site.longitude,
    elevationM: file.site.elevation,
    battery: toBattery(file.battery, file.inverter),
    sources: toSources(file),
    inverter: {
      continuousW: file.inverter.continuous,
      continuousVA: file.inverter.continuous,
      surgeVA: file.inverter.surge,
      derating: null,
      maxInputV: null,
      legs: [],
      idleW: file.inverter.idle,
      efficiencyFraction: file.inverter.efficiency,
      temperatureMaxC: file.inverter.temperatureMax ?? null,
      acVoltage: voltageLimits(file),
      frequency: frequencyLimits(file),
    },
    ruleCurve: { kind: "fixed", atFraction: file.ruleCurve.at },
    balance: null,
    panels: file.panels.map(toPanel),
    loads: file.loads.map((load, index) => toLoad({ load, index, panelIds })),
    staggerMs: file.stagger,
  };
}

function voltageLimits({ inverter }: SettingsFile): ControlSettings["inverter"]["acVoltage"] {
  const limits = inverter.acVoltage;
  return limits === undefined ? null : { minV: limits.min, maxV: limits.max };
}

function frequencyLimits({ inverter }: SettingsFile): ControlSettings["inverter"]["frequency"] {
  const limits = inverter.frequency;
  return limits === undefined ? null : { minHz: limits.min, maxHz: limits.max };
}

function toSources(file: SettingsFile): readonly SourceSettings[] {
  return [
    ...file.arrays.map((array) => ({
      kind: "array" as const,
      id: array.id,
      peakW: array.peak,
      tiltDeg: array.tilt,
      azimuthDeg: array.azimuth,
      currentLimitA: array.currentLimit ?? null,
    })),
    ...file.hydro.map(({ id, peak }) => ({ kind: "hydro" as const, id, peakW: peak })),
    ...file.wind.map(({ id, peak }) => ({ kind: "wind" as const, id, peakW: peak })),
  ];
}

/** What the feeder may carry for hours: by default 80 % of its breaker. */
export function feederMaxW(panel: PanelSection): number {
  return panel.breaker * panel.voltage * panel.continuousShare;
}

function toPanel(panel: PanelSection): PanelSettings {
  return {
    id: panel.id,
    feederMaxW: feederMaxW(panel),
    hasReport: panel.contactor.report !== undefined,
    settleMs: panel.settle,
    openAfterMs: panel.openAfter,
  };
}

export function stagesOf(load: LoadSection): readonly number[] {
  return load.kind === "staged" ? load.stages : [load.power];
}

interface PlacedLoad {
  readonly load: LoadSection;
  readonly index: number;
  readonly panelIds: readonly string[];
}

function toLoad({ load, index, panelIds }: PlacedLoad): LoadSettings {
  const amount = load.quota?.atMost;
  return {
    id: load.id,
    label: load.label ?? load.id,
    panelIndex: load.panel === undefined ? null : panelIds.indexOf(load.panel),
    priority: load.priority ?? index + 1,
    stagesW: stagesOf(load),
    modulating: null,
    powerFactor: 1,
    startPowerVA: load.startPower ?? null,
    startPowerMs: 0,
    legIndex: null,
    isTolerant: false,
    startAboveFraction: load.start.aboveRuleCurve,
    startForMs: load.start.for,
    stopBelowFraction: load.stop.belowRuleCurve,
    stopForMs: load.stop.for,
    minRunMs: load.minRun,
    minRestMs: load.minRest,
    startsPerHourMax: load.startsPerHour ?? null,
    startsPerDayMax: null,
    windows: load.windows.map(({ from, to }) => ({ fromMinute: from, toMinute: to })),
    quotaRunMs: amount?.kind === "run" ? amount.runMs : null,
    quotaEnergyWh: amount?.kind === "energy" ? amount.energyWh : null,
    tank: tankOf(load),
    pump: null,
    sockets: null,
    settleMs: load.settle,
    hasReport: load.report !== undefined,
    hasMeter: load.meter !== undefined,
    hasByHandInput: load.byHand !== undefined,
    latchAfter: load.latchAfter,
    mayLoadGenerator: load.mayLoadGenerator,
  };
}

function tankOf({ tank }: LoadSection): LoadSettings["tank"] {
  if (tank === undefined) return null;
  const { surplus, hysteresis, limit } = tank;
  return { surplusC: surplus, hysteresisK: hysteresis, limitC: limit, volumeL: null };
}

function loadActuator(load: LoadSection, index: number): ActuatorSettings {
  const { topic, repeat, hold } = load.command;
  const payloads =
    load.kind === "staged"
      ? [0, ...load.stages.map((_, place) => place + 1)].map((stage) =>
          load.command.payload.replaceAll("{{stage}}", String(stage)),
        )
      : [load.command.off, load.command.on];
  return { kind: "load", index, id: load.id, topic, payloads, repeatMs: repeat, holdMs: hold };
}

function panelActuator(panel: PanelSection, index: number): ActuatorSettings {
  const { topic, repeat, hold, on, off } = panel.contactor.command;
  const payloads = [off, on];
  return { kind: "panel", index, id: panel.id, topic, payloads, repeatMs: repeat, holdMs: hold };
}

function toBroker({ broker }: SettingsFile, folder: string): BrokerSettings {
  return {
    url: broker.url ?? null,
    embedded: broker.embedded ?? null,
    protocolVersion: broker.protocol === 5 ? 5 : 4,
    username: broker.username ?? null,
    passwordFile: broker.passwordFile === undefined ? null : resolve(folder, broker.passwordFile),
  };
}

function toWeb({ web, site }: SettingsFile, folder: string): WebSettings {
  const tokenFile = resolve(folder, web.tokenFile ?? `${site.id}.token`);
  return { host: web.host, port: web.port, tokenFile };
}
