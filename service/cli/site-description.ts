/** A site in words, at 80 columns: what `bywash check` prints of settings that are right. */
import type { FeedSettings, SensorSettings } from "../../config/site-settings.ts";
import type { SignalSettings, SiteSettings } from "../../config/site-settings.ts";
import { formatQuantity } from "../../config/quantities.ts";
import type { BatterySettings, ControlSettings } from "../control/settings.ts";
import type { SourceSettings } from "../control/settings.ts";
import { hangingLines } from "../hanging-text.ts";
import { greatestPowerW, runMs, runWh } from "../control/guidance/appliance.ts";
import type { Appliance } from "../control/guidance/appliance.ts";
import { loadLines } from "./load-description.ts";
import { duration, percent, voltAmperes, volts, watts } from "./quantity-text.ts";

const INDENT = 13;

export function describeSite(site: SiteSettings): string {
  const { control } = site;
  return [
    ...section("Site", siteLines(site)),
    ...section("Broker", [brokerLine(site)]),
    ...section("Battery", batteryLines(control.battery)),
    ...section("Sources", control.sources.map(sourceLine)),
    ...section("Inverter", inverterLines(control)),
    ...section("Rule curve", ruleCurveLines(control)),
    ...section("Panels", control.panels.map(panelLine)),
    ...section("Loads", loadLines(control)),
    ...section("By hand", site.appliances.map(applianceLine)),
    ...section("Signals", site.telemetry.map(signalLine)),
    ...section("Warnings", site.warnings.length === 0 ? ["none"] : site.warnings),
  ].join("\n");
}

function section(title: string, lines: readonly string[]): readonly string[] {
  const shown = lines.length === 0 ? ["none"] : lines;
  return shown.flatMap((line, index) => wrapped(index === 0 ? title : "", line));
}

function wrapped(title: string, text: string): readonly string[] {
  const isDeeper = text.startsWith("  ");
  const head = title.padEnd(INDENT) + (isDeeper ? "  " : "");
  return hangingLines(head, text, INDENT + (isDeeper ? 4 : 2));
}

function siteLines(site: SiteSettings): readonly string[] {
  const { latitudeDeg, longitudeDeg, elevationM, tickMs } = site.control;
  const north = `${String(Math.abs(latitudeDeg))}° ${latitudeDeg < 0 ? "south" : "north"}`;
  const east = `${String(Math.abs(longitudeDeg))}° ${longitudeDeg < 0 ? "west" : "east"}`;
  return [
    `${site.id}: ${site.label}`,
    `${north}, ${east}, ${formatQuantity(elevationM, "length")}, ${site.timeZone}`,
    `decides every ${duration(tickMs)}`,
  ];
}

function brokerLine({ broker }: SiteSettings): string {
  const version = broker.protocolVersion === 5 ? "5" : "3.1.1";
  const user = broker.username === null ? "" : `, as ${broker.username}`;
  if (broker.embedded !== null) {
    const { host, port, users, tls } = broker.embedded;
    const who = users === null ? "" : `, for ${users.map(({ name }) => name).join(", ")}`;
    const how = tls === null ? "" : ", over TLS";
    return `built in, on ${host} port ${String(port)}${how}, MQTT 3.1.1${who}`;
  }
  return `${withoutPassword(broker.url ?? "")}, MQTT ${version}${user}`;
}

function withoutPassword(url: string): string {
  return url.replace(/\/\/[^@/]*@/u, "//…@");
}

function batteryLines(battery: BatterySettings): readonly string[] {
  const energyWh = Math.round(battery.capacityAh * battery.nominalVoltageV);
  const every = battery.fullChargeEveryDays;
  const high = battery.highVoltageV;
  const compensation = Math.round(battery.compensationVPerK * 1000);
  const modes = battery.voltageMode;
  return [
    `${battery.chemistry}, ${volts(battery.nominalVoltageV)}, ${String(battery.capacityAh)} Ah ` +
      `(${formatQuantity(energyWh, "energy")})`,
    `floor ${percent(battery.floorFraction)}, wanted at sunset ` +
      percent(battery.sunsetTargetFraction),
    `absorption ${volts(battery.absorptionVoltageV)}, float ${volts(battery.floatVoltageV)}, ` +
      `${String(compensation)} mV for each K`,
    `full below ${String(battery.tailCurrentA)} A for ${duration(battery.fullAfterMs)}` +
      (every === null ? "" : `; a full charge wanted every ${String(every)} days`),
    `loads off under ${volts(battery.lowVoltageV)}` +
      (high === null ? "" : `; nothing new starts over ${volts(high)}`),
    ...(modes === null
      ? []
      : [`by voltage, if need be: start ${volts(modes.startV)}, stop ${volts(modes.stopV)}`]),
  ];
}

function ruleCurveLines({ ruleCurve, battery }: ControlSettings): readonly string[] {
  const fixed = `fixed at ${percent(ruleCurve.atFraction)}`;
  if (ruleCurve.kind === "fixed") return [fixed];
  const { reserveNights } = battery;
  return [
    `by outlook, with a caution of ${percent(ruleCurve.cautionFraction)}`,
    `${fixed} until everyday use is known, and while the clock is in doubt`,
    ...(reserveNights === 0 ? [] : [`keeps ${String(reserveNights)} nights above the floor`]),
  ];
}

function sourceLine(source: SourceSettings): string {
  const peak = watts(source.peakW);
  if (source.kind !== "array") return `${source.id}: ${source.kind}, ${peak}`;
  const limit = source.currentLimitA;
  const tail = limit === null ? "" : `, at most ${String(limit)} A`;
  const { tiltDeg, azimuthDeg } = source;
  const aim = `tilt ${String(tiltDeg)}°, azimuth ${String(azimuthDeg)}°`;
  return `${source.id}: array, ${peak}, ${aim}${tail}`;
}

function inverterLines({ inverter, balance }: ControlSettings): readonly string[] {
  const { continuousW, continuousVA, temperatureMaxC, acVoltage, frequency, maxInputV } = inverter;
  const limits = [
    temperatureMaxC === null ? "" : `over ${String(temperatureMaxC)} °C`,
    maxInputV === null ? "" : `over ${volts(maxInputV)} at its input`,
    acVoltage === null ? "" : `outside ${volts(acVoltage.minV)} to ${volts(acVoltage.maxV)}`,
    frequency === null ? "" : `outside ${String(frequency.minHz)} to ${String(frequency.maxHz)} Hz`,
  ].filter((limit) => limit !== "");
  const apparent = continuousVA === continuousW ? "" : ` (${voltAmperes(continuousVA)})`;
  const legs = inverter.legs.map((leg) => `${leg.id} ${voltAmperes(leg.continuousVA)}`);
  const { derating } = inverter;
  return [
    `${watts(continuousW)}${apparent}, surge ${voltAmperes(inverter.surgeVA)}, ` +
      `${watts(inverter.idleW)} idle, efficiency ${percent(inverter.efficiencyFraction)}`,
    legs.length === 0 ? "" : `legs: ${legs.join(", ")}`,
    derating === null
      ? ""
      : `loses ${percent(derating.perKFraction)} for each K above ${String(derating.aboveC)} °C`,
    limits.length === 0 ? "" : `loads off ${limits.join(", ")}`,
    balance === null
      ? "what is measured is not compared: not all of it is mapped, or it is to be ignored"
      : `what is measured adds up within ${watts(balance.toleranceW)} or ` +
        `${percent(balance.toleranceFraction)}, else loads off after ${duration(balance.forMs)}`,
  ].filter((line) => line !== "");
}

function panelLine(panel: ControlSettings["panels"][number]): string {
  const report = panel.hasReport ? "reports its position" : "does not report its position";
  return (
    `${panel.id}: carries ${watts(panel.feederMaxW)} for hours, ${report}, ` +
    `opens ${duration(panel.openAfterMs)} after its last load`
  );
}

function signalLine(signal: SignalSettings): string {
  const name = signal.key.replace("{id}", signal.ownerId ?? "");
  return `${name}: ${signal.sensors.map(sensorText).join("; else ")}`;
}

function sensorText({ combine, feeds }: SensorSettings): string {
  const texts = feeds.map(feedText);
  return combine === "alone" ? texts.join("") : `${combine} of ${texts.join(" and ")}`;
}

function feedText({ topic, field, staleMs, stamp, frozenMs }: FeedSettings): string {
  const place = field === null ? topic : `${topic} ${field}`;
  const age = staleMs === null ? "any age" : `up to ${duration(staleMs)} old`;
  const by = stamp === null ? "" : ` by ${stamp.field}`;
  const frozen = frozenMs === null ? "" : `, unchanged for ${duration(frozenMs)} at most`;
  return `${place}, ${age}${by}${frozen}`;
}

function applianceLine(appliance: Appliance): string {
  const energy = formatQuantity(Math.round(runWh(appliance)), "energy");
  return (
    `${appliance.id}: ${appliance.label}, ${energy} in ${duration(runMs(appliance))}, ` +
    `up to ${watts(greatestPowerW(appliance))}`
  );
}
