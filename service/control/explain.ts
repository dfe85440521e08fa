/** Verdicts as sentences. Written out here so that terminal, HTTP and MQTT say the same. */
import type { OutlookView, SiteFinding, SiteVerdict, Verdict } from "./decision.ts";
import { codeEntry } from "./events.ts";
import { SITE_CODES } from "./site-codes.ts";
import type { CodeEntry, QuantityKind } from "./code-entry.ts";

const MS_PER_SECOND = 1000;
const SECONDS_PER_MINUTE = 60;
const MINUTES_PER_HOUR = 60;

/**
 * The sentence of a load's or panel's verdict, without its label and without a full stop.
 *
 * @param site - Where the whole site is held off, its gravest finding is named.
 */
export function explainVerdict(verdict: Verdict, site: SiteVerdict): string {
  if (verdict.code === "site-interlock") {
    const finding = site.findings.find(({ code }) => SITE_CODES[code].isInterlock);
    if (finding !== undefined) return `off: ${explainFinding(finding)}`;
  }
  const sentence = fill(codeEntry(verdict.code), verdict);
  const isAboutBand = verdict.code === "waiting-band" && site.outlook !== null;
  return isAboutBand ? `${sentence} now, because ${expectation(site.outlook)}` : sentence;
}

/** What the rule curve of now rests on. */
function expectation({ expectedWh, cautiousWh }: OutlookView): string {
  const expected = formatQuantity(expectedWh, "energyWh");
  const cautious = formatQuantity(cautiousWh, "energyWh");
  return `${expected} more are expected before sunset, on the cautious side ${cautious}`;
}

export function explainFinding(finding: SiteFinding): string {
  return explainCode(codeEntry(finding.code), finding);
}

/** The sentence of an entry of the dictionaries, for what is told later. */
export function explainCode(
  entry: CodeEntry,
  { measured, limit }: Pick<Verdict, "measured" | "limit">,
): string {
  return fill(entry, { measured, limit, remainingMs: null });
}

/** The battery against its rule curve and the power on offer, in one line. */
export function explainSite(site: SiteVerdict): string {
  const parts = [stateOfCharge(site)];
  if (site.chargeStage !== null) parts.push(site.chargeStage);
  if (site.batteryPowerW !== null) {
    const isCharging = site.batteryPowerW >= 0;
    const powerW = formatQuantity(Math.abs(site.batteryPowerW), "powerW");
    parts.push(isCharging ? `takes ${powerW}` : `gives ${powerW}`);
  }
  if (site.isCurtailed) parts.push(heldBack(site));
  if (site.outlook !== null) parts.push(expectation(site.outlook));
  return parts.join(", ");
}

function heldBack({ hiddenLowW }: SiteVerdict): string {
  if (hiddenLowW === 0) return "arrays held back";
  return `arrays held back by ${formatQuantity(hiddenLowW, "powerW")} or more`;
}

function stateOfCharge(site: SiteVerdict): string {
  const ruleCurve = formatQuantity(site.ruleCurveFraction, "fraction");
  if (site.socFraction !== null) {
    return `battery ${formatQuantity(site.socFraction, "fraction")}, rule curve ${ruleCurve}`;
  }
  if (site.socSource === "voltage" && site.restVoltageV !== null) {
    return `battery ${formatQuantity(site.restVoltageV, "voltageV")} at rest`;
  }
  return "state of charge not known";
}

function fill(
  entry: CodeEntry,
  figures: {
    readonly measured: number | null;
    readonly limit: number | null;
    readonly remainingMs: number | null;
  },
): string {
  return entry.sentence
    .replace("{measured}", written(figures.measured, entry.measured))
    .replace("{limit}", written(figures.limit, entry.limit))
    .replace(
      "{remaining}",
      figures.remainingMs === null ? "a while" : duration(figures.remainingMs),
    );
}

function written(value: number | null, kind: QuantityKind | null): string {
  return value === null || kind === null ? "?" : formatQuantity(value, kind);
}

/** A number with its unit, as the sentences print it. */
export function formatQuantity(value: number, kind: QuantityKind): string {
  switch (kind) {
    case "fraction":
      return `${(value * 100).toFixed(1)} %`;
    case "powerW":
      return Math.abs(value) >= 1000 ? `${(value / 1000).toFixed(2)} kW` : `${value.toFixed(0)} W`;
    case "apparentPowerVA":
      return Math.abs(value) >= 1000
        ? `${(value / 1000).toFixed(2)} kVA`
        : `${value.toFixed(0)} VA`;
    case "currentA":
      return `${value.toFixed(1)} A`;
    case "voltageV":
      return `${value.toFixed(2)} V`;
    case "temperatureC":
      return `${value.toFixed(1)} °C`;
    case "flowLPerMin":
      return `${value.toFixed(1)} L/min`;
    case "frequencyHz":
      return `${value.toFixed(2)} Hz`;
    case "energyWh":
      return `${(value / 1000).toFixed(2)} kWh`;
    case "minutes":
      return `${value.toFixed(0)} min`;
    case "count":
      return value.toFixed(0);
  }
}

function duration(ms: number): string {
  const seconds = Math.ceil(ms / MS_PER_SECOND);
  if (seconds < 2 * SECONDS_PER_MINUTE) return `${String(seconds)} s`;
  const minutes = Math.ceil(seconds / SECONDS_PER_MINUTE);
  if (minutes < 2 * MINUTES_PER_HOUR) return `${String(minutes)} min`;
  return `${(minutes / MINUTES_PER_HOUR).toFixed(1)} h`;
}
