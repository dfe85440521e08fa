/** What people and other programs see of a site: plain JSON, units in the names of the keys. */
import type { SiteSettings } from "../config/site-settings.ts";
import { SIGNALS } from "../config/signals.ts";
import type { SignalEntry } from "../config/signals.ts";
import type { Decision, SiteFinding, SiteVerdict, Verdict } from "./control/decision.ts";
import { explainFinding, explainSite, explainVerdict } from "./control/explain.ts";
import type { AskedMemory, Memory } from "./control/memory.ts";
import { SITE_CODES } from "./control/site-codes.ts";
import { VERDICT_CODES } from "./control/verdict-codes.ts";
import type { CodeEntry } from "./control/code-entry.ts";
import type { RequestCounts } from "./request-desk.ts";
import { adviceOf } from "./signal-advice.ts";
import type { SwitchTestView } from "./switch-test/switch-test.ts";
import type { SignalView } from "./telemetry/views.ts";
import { timestamp } from "./timestamp.ts";

/** `shadow`: decides and tells, but commands nothing. */
export type Mode = "active" | "shadow";

export interface VerdictView {
  readonly id: string;
  readonly label: string;
  readonly code: Verdict["code"];
  readonly severity: CodeEntry["severity"];
  /** What was decided; in shadow mode it is not commanded. 0 = off. */
  readonly stage: number;
  readonly sentence: string;
  /** The numbers behind it, such as `measuredPowerW` and `limitPowerW`. */
  readonly figures: Readonly<Record<string, number>>;
  readonly remainingS: number | null;
}

export interface LoadView extends VerdictView {
  /** Its switch has been seen to do what it was last told; false in shadow mode. */
  readonly isConfirmed: boolean;
  /** What a person has asked for, and still holds. */
  readonly asked: {
    readonly wants: Exclude<AskedMemory["wants"], "be-ready">;
    /** RFC 3339, UTC. */
    readonly until: string;
    readonly remainingS: number;
  } | null;
}

export interface FindingView {
  readonly code: SiteFinding["code"];
  readonly severity: CodeEntry["severity"];
  readonly sentence: string;
  readonly figures: Readonly<Record<string, number>>;
}

export interface SiteVerdictView extends Omit<SiteVerdict, "findings"> {
  readonly sentence: string;
  readonly findings: readonly FindingView[];
}

export interface SignalStateView {
  readonly signal: string;
  readonly value: number | boolean | string | null;
  readonly unit: string | null;
  readonly quality: SignalView["quality"];
  /** What may be wrong, and where to look first; null: it can be used. */
  readonly advice: string | null;
  readonly ageS: number | null;
  readonly ignoredCount: number;
  /** Of that, by reason; those that never came are left out. */
  readonly ignoredCounts: Readonly<Record<string, number>>;
  /** In order of preference; one of them is in use. */
  readonly sensors: readonly SensorStateView[];
  /** How often another sensor was taken. */
  readonly sensorChangeCount: number;
}

export interface SensorStateView {
  readonly isInUse: boolean;
  readonly topics: readonly string[];
  readonly value: number | boolean | string | null;
  readonly quality: SignalView["quality"];
  readonly ageS: number | null;
}

export interface Counters {
  readonly tickCount: number;
  readonly overrunCount: number;
  readonly receivedCount: number;
  readonly ignoredCounts: Readonly<Record<string, number>>;
  readonly commandCount: number;
  readonly brokerLossCount: number;
  readonly requestCounts: RequestCounts;
}

export interface StateView {
  readonly formatVersion: 1;
  readonly version: string;
  readonly mode: Mode;
  /** The time is that of a demo or a rig, and no real shed is switched. */
  readonly isTimeSimulated: boolean;
  /** RFC 3339, UTC. */
  readonly at: string;
  readonly site: { readonly id: string; readonly label: string; readonly timeZone: string };
  readonly isBrokerConnected: boolean;
  /** What is wrong between the service and the broker, in words. */
  readonly brokerTroubles: readonly string[];
  /** null before the first tick. */
  readonly verdict: SiteVerdictView | null;
  readonly loads: readonly LoadView[];
  readonly panels: readonly VerdictView[];
  /** A load that is switched while a person stands by, or the last one; null: none yet. */
  readonly switchTest: SwitchTestView | null;
  readonly signals: readonly SignalStateView[];
  readonly counters: Counters;
}

export interface StateSource {
  readonly site: SiteSettings;
  readonly version: string;
  readonly mode: Mode;
  readonly isTimeSimulated: boolean;
  readonly wallMs: number;
  readonly isBrokerConnected: boolean;
  /** What is wrong between the service and the broker, in words. */
  readonly brokerTroubles: readonly string[];
  readonly decision: Decision | null;
  /** After that decision. */
  readonly memory: Memory | null;
  readonly switchTest: SwitchTestView | null;
  readonly signals: readonly SignalView[];
  readonly counters: Counters;
}

export function buildStateView(source: StateSource): StateView {
  const { site, decision } = source;
  return {
    formatVersion: 1,
    version: source.version,
    mode: source.mode,
    isTimeSimulated: source.isTimeSimulated,
    at: timestamp(source.wallMs),
    site: { id: site.id, label: site.label, timeZone: site.timeZone },
    isBrokerConnected: source.isBrokerConnected,
    brokerTroubles: source.brokerTroubles,
    verdict: decision === null ? null : siteVerdictView(decision.site),
    loads: decision === null ? [] : loadViews(site, decision, source),
    panels: decision === null ? [] : panelViews(site, decision),
    switchTest: source.switchTest,
    signals: source.signals.map(signalView),
    counters: source.counters,
  };
}

export function siteVerdictView(verdict: SiteVerdict): SiteVerdictView {
  return {
    ...verdict,
    sentence: explainSite(verdict),
    findings: verdict.findings.map((finding) => ({
      code: finding.code,
      severity: SITE_CODES[finding.code].severity,
      sentence: explainFinding(finding),
      figures: figuresOf(SITE_CODES[finding.code], finding),
    })),
  };
}

export function loadViews(
  site: SiteSettings,
  decision: Decision,
  now: { readonly memory: Memory | null; readonly wallMs: number; readonly mode: Mode },
): LoadView[] {
  return site.control.loads.flatMap(({ id, label }, index): LoadView[] => {
    const verdict = decision.verdicts[index];
    if (verdict === undefined) return [];
    const load = now.memory?.loads.find((one) => one.id === id);
    return [
      {
        ...verdictView({ id, label }, verdict, decision.site),
        isConfirmed: now.mode === "active" && load?.isConfirmed === true,
        asked: askedView(load?.asked ?? null, now),
      },
    ];
  });
}

function askedView(
  asked: AskedMemory | null,
  { memory, wallMs }: { readonly memory: Memory | null; readonly wallMs: number },
): LoadView["asked"] {
  if (asked === null || asked.wants === "be-ready") return null;
  const leftMs = Math.max(0, asked.untilMs - (memory?.lastTickMs ?? asked.untilMs));
  return {
    wants: asked.wants,
    until: timestamp(wallMs + leftMs),
    remainingS: Math.round(leftMs / 1000),
  };
}

export function panelViews(site: SiteSettings, decision: Decision): VerdictView[] {
  return site.control.panels.flatMap(({ id }, index) => {
    const verdict = decision.panelVerdicts[index];
    return verdict === undefined ? [] : [verdictView({ id, label: id }, verdict, decision.site)];
  });
}

function verdictView(
  owner: { readonly id: string; readonly label: string },
  verdict: Verdict,
  site: SiteVerdict,
): VerdictView {
  const entry: CodeEntry = VERDICT_CODES[verdict.code];
  return {
    id: owner.id,
    label: owner.label,
    code: verdict.code,
    severity: entry.severity,
    stage: verdict.stage,
    sentence: explainVerdict(verdict, site),
    figures: figuresOf(entry, verdict),
    remainingS: verdict.remainingMs === null ? null : Math.round(verdict.remainingMs / 1000),
  };
}

/** The two numbers of a verdict or finding, named by what they are. */
function figuresOf(
  entry: CodeEntry,
  numbers: { readonly measured: number | null; readonly limit: number | null },
): Record<string, number> {
  const figures: Record<string, number> = {};
  if (entry.measured !== null && numbers.measured !== null) {
    figures[`measured${capitalised(entry.measured)}`] = numbers.measured;
  }
  if (entry.limit !== null && numbers.limit !== null) {
    figures[`limit${capitalised(entry.limit)}`] = numbers.limit;
  }
  return figures;
}

function capitalised(word: string): string {
  return word.charAt(0).toUpperCase() + word.slice(1);
}

const UNITS = {
  fraction: "1",
  voltage: "V",
  current: "A",
  power: "W",
  energy: "Wh",
  temperature: "°C",
  frequency: "Hz",
  flow: "L/min",
  irradiance: "W/m²",
  count: "1",
} as const satisfies Record<NonNullable<SignalEntry["dimension"]>, string>;

export function signalView(view: SignalView): SignalStateView {
  const { key, ownerId } = view.signal;
  const { dimension }: SignalEntry = SIGNALS[key];
  return {
    signal: ownerId === null ? key : key.replace("{id}", ownerId),
    value: view.value,
    unit: dimension === null ? null : UNITS[dimension],
    quality: view.quality,
    advice: adviceOf(view),
    ageS: ageInS(view.ageMs),
    ignoredCount: view.ignoredCount,
    ignoredCounts: view.ignoredCounts,
    sensors: view.sensors.map(({ topics, value, quality, ageMs }, place) => ({
      isInUse: place === view.sensorInUse,
      topics,
      value,
      quality,
      ageS: ageInS(ageMs),
    })),
    sensorChangeCount: view.sensorChangeCount,
  };
}

function ageInS(ageMs: number | null): number | null {
  return ageMs === null ? null : Math.round(ageMs / 100) / 10;
}
