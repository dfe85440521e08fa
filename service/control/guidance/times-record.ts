/**
 * What was said of good times and what came of it, so that confidence means how often such times
 * came true at this very site.
 *
 * Each hour of daylight it is written down which start was called good: one now, the best one later
 * today, the best one tomorrow. After that start's sunset the time is judged (`came-true.ts`) by
 * what the site itself measured from the start on, whether or not anybody started anything.
 *
 * Hours of one day share one sky, so a day counts once: for each kind of time, the share of what
 * was said that came true. Older days fade.
 *
 * Nothing is learned while the clock is in doubt, or over a hole in what was measured. Nothing here
 * has a say in what runs.
 *
 * @source M. West & J. Harrison, Bayesian Forecasting and Dynamic Models (2nd ed. 1997), ch. 6 on
 * discount factors, from memory: what is old counts less by the same factor each day
 */
import { itemAt } from "../item-at.ts";
import type { SiteVerdict } from "../decision.ts";
import type { Observation } from "../observation.ts";
import { curveBattery } from "../outlook/plan.ts";
import type { SeenAcceptance } from "../outlook/acceptance-table.ts";
import type { ControlSettings } from "../settings.ts";
import type { SiteCode } from "../site-codes.ts";
import { cameTrue } from "./came-true.ts";
import type { SeenStep } from "./came-true.ts";
import { isArrayUnseen } from "./arrays-unseen.ts";
import { KINDS } from "./time-kinds.ts";
import { STEP_MS } from "./prospect.ts";

/** A start that was called good. */
export interface SaidTime {
  /** Its place in `KINDS`. */
  readonly kind: number;
  readonly startMs: number;
  /** By then it is to be made good. */
  readonly sunsetMs: number;
  /** What the appliance draws at the battery bus, step after step. [W] ≥ 0 */
  readonly stepW: readonly number[];
}

/** Days on which something was said of a kind of time, and what share of it came true. */
export interface DaysKept {
  /** Each day counts 1 when it is new, half after `HALF_LIFE_DAYS`. [days] ≥ 0 */
  readonly said: number;
  /** [days] 0…said */
  readonly kept: number;
}

/** The step that runs. */
export interface StepSum {
  readonly atMs: number;
  readonly looks: number;
  readonly netW: number;
  /** At its first look. [1] 0…1 */
  readonly socFraction: number;
  readonly hasFuel: boolean;
}

export interface TimesRecord {
  /** Last look, by both clocks; null: none since the start. */
  readonly look: { readonly wallMs: number; readonly monotonicMs: number } | null;
  readonly step: StepSum | null;
  /** Rising in time, holes left out. */
  readonly seen: readonly SeenStep[];
  /** Not judged yet. */
  readonly said: readonly SaidTime[];
  /** Last hour in which something was written down, since 1970. */
  readonly saidHour: number | null;
  /** By the places of `KINDS`. */
  readonly days: readonly DaysKept[];
  /** Local day to which `days` has faded. */
  readonly fadedOnDay: number | null;
}

export const NO_TIMES: TimesRecord = {
  look: null,
  step: null,
  seen: [],
  said: [],
  saidHour: null,
  days: KINDS.map(() => ({ said: 0, kept: 0 })),
  fadedOnDay: null,
};

export interface TimesLook {
  readonly observation: Observation;
  readonly site: SiteVerdict;
  readonly settings: ControlSettings;
  readonly acceptance: SeenAcceptance;
}

/**
 * With these nothing measured is to be learned from. A battery under its floor is none of them: a
 * time that ends there did not come true, and must not be left out.
 */
const DOUBTS: ReadonlySet<SiteCode> = new Set<SiteCode>([
  "broker-lost",
  "telemetry-missing",
  "power-unbalanced",
  "soc-not-following",
  "soc-disagrees",
]);
const LOOK_EVERY_MS = 60_000;
/** Of ten that there could be: a step with fewer was not seen. Ours, no source. */
const LOOKS_MIN = 7;
export const LOOKS_MAX = 10;
/** A wall clock that goes this much apart from the other one was set. [ms] */
const APART_MAX_MS = 30_000;
/** A day and a night: no start that is still to be judged began earlier. */
export const SEEN_MAX = 144;
/**
 * Sunset reckoned a day ahead and on the day differ by seconds: all that ends at one is judged
 * together, so that the day counts once.
 */
const SETTLE_AFTER_MS = 1_800_000;
/** Ours, no source: a season is gone through in one or two of them. */
export const HALF_LIFE_DAYS = 60;

/** The same object unless a minute is over. */
export function lookAgain(record: TimesRecord, now: TimesLook): TimesRecord {
  const { observation } = now;
  const { wallMs, monotonicMs, unlearn } = observation;
  // What was said rested on a sky that is to be forgotten.
  if (unlearn === "sky") return NO_TIMES;
  if (!observation.isWallClockPlausible) return underWayGivenUp(record);
  const { look } = record;
  if (look !== null && monotonicMs - look.monotonicMs < LOOK_EVERY_MS) return record;
  const isSet =
    look !== null &&
    Math.abs(wallMs - look.wallMs - (monotonicMs - look.monotonicMs)) > APART_MAX_MS;
  const before = isSet ? underWayGivenUp(record) : record;
  const atMs = Math.floor(wallMs / STEP_MS) * STEP_MS;
  const isNextStep = before.step !== null && before.step.atMs !== atMs;
  const closed = isNextStep ? settled(stepClosed(before), now) : before;
  return { ...closed, look: { wallMs, monotonicMs }, step: stepWith(closed.step, atMs, now) };
}

/** What has been learned stays. */
function underWayGivenUp(record: TimesRecord): TimesRecord {
  const { look, step, seen, said } = record;
  const isNothing = look === null && step === null && seen.length === 0 && said.length === 0;
  return isNothing ? record : { ...record, look: null, step: null, seen: [], said: [] };
}

function stepClosed(record: TimesRecord): TimesRecord {
  const { step, seen } = record;
  if (step === null || step.looks < LOOKS_MIN) return { ...record, step: null };
  const { atMs, netW, looks, socFraction, hasFuel } = step;
  const next = { atMs, netW: netW / looks, socFraction, hasFuel };
  return { ...record, step: null, seen: [...seen, next].slice(-SEEN_MAX) };
}

function stepWith(step: StepSum | null, atMs: number, now: TimesLook): StepSum | null {
  const { isGeneratorRunning } = now.observation;
  const { socFraction } = now.site;
  const hasFuel = isGeneratorRunning.quality === "fresh" && isGeneratorRunning.value;
  const netW = hasFuel ? 0 : netPowerW(now);
  if (netW === null || socFraction === null) return step;
  if (step === null) return { atMs, looks: 1, netW, socFraction, hasFuel };
  return {
    atMs,
    looks: step.looks + 1,
    netW: step.netW + netW,
    socFraction: step.socFraction,
    hasFuel: hasFuel || step.hasFuel,
  };
}

/**
 * What the sources surely could give less everyday use, at the battery bus: the middle of what they
 * are likely to give was too much in the last hours of light, just when it matters. What a person
 * did start counts as everyday use, and the time is judged as if one more had been started: rather
 * too severe.
 *
 * @returns null where it is not known. [W]
 */
function netPowerW({ observation, site, settings }: TimesLook): number | null {
  const { basePowerW, sourcesPowerW, potentialLowW, socSource, findings } = site;
  if (basePowerW === null || socSource !== "monitor") return null;
  if (findings.some(({ code }) => DOUBTS.has(code))) return null;
  if (isArrayUnseen(observation, settings)) return null;
  return Math.max(sourcesPowerW, potentialLowW ?? 0) - basePowerW;
}

/** Judges what is due; each kind's share of the day goes into its days. */
function settled(record: TimesRecord, now: TimesLook): TimesRecord {
  const { wallMs, localDay } = now.observation;
  if (!record.said.some(({ sunsetMs }) => wallMs >= sunsetMs + SETTLE_AFTER_MS)) return record;
  const isOver = ({ sunsetMs }: SaidTime): boolean => wallMs >= sunsetMs;
  const judged = judgedOf(record.said.filter(isOver), record.seen, now);
  const said = record.said.filter((one) => !isOver(one));
  // A clock that was wrong before the start must not make what is known fade.
  if (judged.every(({ said: count }) => count === 0)) return { ...record, said };
  const share = shareLeftAfter(Math.max(0, localDay - (record.fadedOnDay ?? localDay)));
  const days = record.days.map((before, kind) => {
    const { said: count, kept } = itemAt(judged, kind);
    const faded = { said: before.said * share, kept: before.kept * share };
    return count === 0 ? faded : { said: faded.said + 1, kept: faded.kept + kept / count };
  });
  return { ...record, said, days, fadedOnDay: Math.max(localDay, record.fadedOnDay ?? localDay) };
}

/** Of what a day counted. [1] 0…1 */
export function shareLeftAfter(days: number): number {
  return Math.exp((-Math.LN2 * days) / HALF_LIFE_DAYS);
}

/** How many of each kind could be judged, and how many of them came true. */
function judgedOf(
  over: readonly SaidTime[],
  seen: readonly SeenStep[],
  { settings, acceptance }: TimesLook,
): readonly DaysKept[] {
  const { floorFraction, sunsetTargetFraction } = settings.battery;
  const battery = curveBattery(settings.battery, { acceptance });
  const judged = KINDS.map(() => ({ said: 0, kept: 0 }));
  for (const one of over) {
    const isKept = cameTrue(one, seen, { battery, floorFraction, sunsetTargetFraction });
    if (isKept === null) continue;
    const sum = itemAt(judged, one.kind);
    sum.said += 1;
    sum.kept += isKept ? 1 : 0;
  }
  return judged;
}
