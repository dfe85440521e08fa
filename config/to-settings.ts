/** From a file that has passed all checks to what the service runs on. */
import { dirname, resolve } from "node:path";
import type {
  ControlSettings,
  PanelSettings,
  RuleCurveSettings,
  SourceSettings,
} from "../service/control/settings.ts";
import type { BrokerSection } from "./schema-broker.ts";
import type { BatterySection, PanelSection, RuleCurveSection, SettingsFile } from "./schema.ts";
import type { BrokerSettings, EmbeddedBrokerSettings, SignalSettings } from "./site-settings.ts";
import type { SiteSettings, WebSettings } from "./site-settings.ts";
import { toActuators } from "./to-actuators.ts";
import { toBalance } from "./to-balance.ts";
import { toBattery } from "./to-battery.ts";
import { toAppliance } from "./to-guidance.ts";
import { toHistory } from "./to-history.ts";
import { toInverter } from "./to-inverter.ts";
import { toLoad } from "./to-load.ts";

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
    history: toHistory(file, folder),
    telemetry: signals,
    actuators: toActuators(file),
    appliances: file.guidance.map(toAppliance),
    warnings,
  };
}

function toControl(file: SettingsFile): ControlSettings {
  const panelIds = file.panels.map((panel) => panel.id);
  const legIds = file.inverter.legs.map((leg) => leg.id);
  return {
    tickMs: file.site.tick,
    latitudeDeg: file.site.latitude,
    longitudeDeg: file.site.longitude,
    elevationM: file.site.elevation,
    battery: toBattery(file.battery, file.inverter),
    sources: toSources(file),
    irradianceSensor: toIrradianceSensor(file),
    inverter: toInverter(file.inverter, file.site.elevation),
    ruleCurve: toRuleCurve(file),
    balance: toBalance(file.balance, {
      ...file,
      isMapped: (signal) => Object.hasOwn(file.telemetry, signal),
    }),
    panels: file.panels.map(toPanel),
    loads: file.loads.map((load, index) => toLoad({ load, index, panelIds, legIds })),
    staggerMs: file.stagger,
  };
}

/** Any would do for what lies flat. [deg] */
const SOUTH_DEG = 180;

/** Above the sunset target by this, so that loads that stop a little below do not miss it. [1] */
const ABOVE_TARGET_FRACTION = 0.02;

/** The fixed curve, or the one that holds until there is an outlook. [1] 0…1 */
function fixedCurveFraction(
  ruleCurve: RuleCurveSection,
  { sunsetTarget }: Pick<BatterySection, "sunsetTarget">,
): number {
  return ruleCurve.at ?? Math.min(1, sunsetTarget + ABOVE_TARGET_FRACTION);
}

function toRuleCurve({ ruleCurve, battery }: SettingsFile): RuleCurveSettings {
  const atFraction = fixedCurveFraction(ruleCurve, battery);
  if (ruleCurve.mode === "fixed") return { kind: "fixed", atFraction };
  return { kind: "outlook", atFraction, cautionFraction: ruleCurve.caution };
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

/** A mapped signal without a word about its plane is of a horizontal sensor. */
function toIrradianceSensor(file: SettingsFile): ControlSettings["irradianceSensor"] {
  if (!Object.hasOwn(file.telemetry, "sky.irradiance")) return null;
  const { tilt, azimuth } = file.irradianceSensor ?? { tilt: 0, azimuth: SOUTH_DEG };
  return { peakW: 1000, tiltDeg: tilt, azimuthDeg: azimuth };
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

function toBroker({ broker }: SettingsFile, folder: string): BrokerSettings {
  const fileAt = (name: string | undefined): string | null =>
    name === undefined ? null : resolve(folder, name);
  const { embedded, tls } = broker;
  return {
    url: broker.url ?? null,
    embedded: embedded === undefined ? null : toEmbedded(embedded, folder),
    protocolVersion: broker.protocol === 5 ? 5 : 4,
    username: broker.username ?? null,
    passwordFile: fileAt(broker.passwordFile),
    tls: {
      caFile: fileAt(tls?.ca),
      certificateFile: fileAt(tls?.certificate),
      keyFile: fileAt(tls?.key),
      serverName: tls?.serverName ?? null,
    },
    acceptsRequests: broker.requests === "accept",
  };
}

function toEmbedded(
  { host, port, users, tls }: NonNullable<BrokerSection["embedded"]>,
  folder: string,
): EmbeddedBrokerSettings {
  return {
    host,
    port,
    users:
      users === undefined
        ? null
        : users.map((user) => ({ ...user, passwordFile: resolve(folder, user.passwordFile) })),
    tls:
      tls === undefined
        ? null
        : {
            certificateFile: resolve(folder, tls.certificate),
            keyFile: resolve(folder, tls.key),
          },
  };
}

function toWeb({ web, site }: SettingsFile, folder: string): WebSettings {
  const tokenFile = resolve(folder, web.tokenFile ?? `${site.id}.token`);
  return {
    host: web.host,
    port: web.port,
    tokenFile,
    reading: web.reading,
    isEditable: web.editing,
  };
}
