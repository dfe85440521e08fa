/**
 * When it is a good time to start the appliances that people start themselves: today, and tomorrow.
 *
 * The problem: whoever looks only at the battery starts the washing when it is full, which is late,
 * and whoever looks only at the sun starts it on the morning of the day on which the battery was to
 * recover. What counts is whether the battery gets through the coming night in spite of it, and
 * that shows only on the whole way there: a run may be made good by sunset and yet take the battery
 * under its floor before. So each start is followed to the next sunset and held against the rule
 * curve at every step.
 *
 * What it leaves out: that a person might start two appliances at once (each is judged alone, and
 * the second anew once the first is running), and the battery's own limit of discharge.
 *
 * Not part of the tick: it is worked out every few minutes, from what the last tick has left.
 */
import type { SiteFinding, SiteVerdict } from "../decision.ts";
import { itemAt } from "../item-at.ts";
import type { Memory } from "../memory.ts";
import type { Observation } from "../observation.ts";
import { isBaseKnown } from "../outlook/base-profile.ts";
import { inverterRatings } from "../ratings.ts";
import type { ControlSettings } from "../settings.ts";
import { SITE_CODES } from "../site-codes.ts";
import type { Appliance } from "./appliance.ts";
import type { ConfidenceCode, RefusalCode } from "./guidance-codes.ts";
import { isArrayUnseen } from "./arrays-unseen.ts";
import { dayAdvice, lightOf } from "./advice.ts";
import type { DayAdvice, Light } from "./advice.ts";
import { prospectOf } from "./prospect.ts";
import type { LocalInstant, Prospect } from "./prospect.ts";
import { coursesOf, startsOf } from "./starts.ts";
import type { Start } from "./starts.ts";
import { horizonOf, kindOf } from "./time-kinds.ts";
import type { TimesRecord } from "./times-record.ts";
import { trustedAs } from "./times-trust.ts";

export interface GuidanceInput {
  readonly memory: Memory;
  readonly observation: Observation;
  readonly site: SiteVerdict;
  readonly settings: ControlSettings;
  readonly appliances: readonly Appliance[];
  readonly localTimeAt: (wallMs: number) => LocalInstant;
  /** How often what was said came true. */
  readonly times: TimesRecord;
}

export interface Refusal {
  readonly code: RefusalCode;
  /** What is wrong with the site, if that is why. */
  readonly finding: SiteFinding | null;
}

export interface ApplianceAdvice {
  readonly light: Light;
  /** What it would come to if it were started now. */
  readonly now: Start;
  /** Today and tomorrow, as far as a start can be followed to its sunset. */
  readonly days: readonly DayAdvice[];
}

export interface Guidance {
  readonly refusal: Refusal | null;
  /** Days of sky on record. */
  readonly recordDays: number;
  /** In the order of the appliances; empty with a refusal. */
  readonly advice: readonly ApplianceAdvice[];
}

/** Under so many days of sky the outlook rests on a stated spread alone. */
const RECORD_DAYS_MIN = 4;
/** From so many on it rests on the record alone. */
const RECORD_DAYS_FULL = 14;

export function guidanceOf(input: GuidanceInput): Guidance {
  const recordDays = input.memory.outlook.sky.days.length;
  const refusal = refusalOf(input);
  const prospect = refusal === null ? prospectFor(input) : null;
  const { socFraction } = input.site;
  if (refusal !== null || prospect === null || socFraction === null) {
    return {
      refusal: refusal ?? { code: "no-sunset", finding: null },
      recordDays,
      advice: [],
    };
  }
  const { settings, observation, localTimeAt } = input;
  const start = {
    prospect,
    socFraction,
    nowMs: observation.wallMs,
    inverterEfficiency: settings.inverter.efficiencyFraction,
    inverterW: inverterRatings(observation, settings).continuousW,
    localTimeAt,
  };
  const courses = coursesOf(start);
  return {
    refusal: null,
    recordDays,
    advice: input.appliances.map((appliance) =>
      adviceOn(startsOf(appliance, courses, start), prospect, input),
    ),
  };
}

function refusalOf({ memory, observation, site, settings }: GuidanceInput): Refusal | null {
  if (!observation.isWallClockPlausible) return { code: "clock-implausible", finding: null };
  const finding = site.findings.find(({ code }) => SITE_CODES[code].isInterlock) ?? null;
  if (finding !== null) return { code: "site-held", finding };
  if (site.socFraction === null) return { code: "soc-unknown", finding: null };
  if (isArrayUnseen(observation, settings)) return { code: "sources-unseen", finding: null };
  const { base, clearDays } = memory.outlook;
  if (!isBaseKnown(base) || clearDays === null) return { code: "use-unknown", finding: null };
  return null;
}

function prospectFor(input: GuidanceInput): Prospect | null {
  const { memory, observation, settings, localTimeAt } = input;
  const { clearDays } = memory.outlook;
  // Of yesterday's midnight until the next tick: better none than the wrong day.
  if (clearDays === null || clearDays.localDay !== observation.localDay) return null;
  return prospectOf({
    outlook: memory.outlook,
    clearDays,
    observation,
    settings,
    loads: memory.loads,
    fullOnDay: memory.battery.fullOnDay,
    localTimeAt,
  });
}

function adviceOn(
  starts: readonly Start[],
  prospect: Prospect,
  { observation }: GuidanceInput,
): ApplianceAdvice {
  return {
    light: lightOf(starts, { prospect, localDay: observation.localDay }),
    now: itemAt(starts, 0),
    days: dayAdvice(starts, prospect),
  };
}

/** Of a start that is not good there is little to be sure of; of a costly one nothing is said. */
export function confidenceIn(
  start: Start,
  atMs: number,
  input: GuidanceInput,
): ConfidenceCode | null {
  const { memory, site, settings } = input;
  const { grade, isCautiousBelow, holdsInDoubt } = start;
  if (grade === "costly" || grade === "closed") return null;
  const recordDays = memory.outlook.sky.days.length;
  if (recordDays < RECORD_DAYS_MIN) return "no-record";
  const isSocDoubtful = site.socSource !== "monitor" || isDisagreeing(site);
  if (isSocDoubtful) return "own-count";
  if (isCautiousBelow) return "unsure";
  const trusted = trustedAs(input.times, kindOf(horizonOf(atMs, input), holdsInDoubt));
  if (grade === "good" && trusted === "low") return "seldom-true";
  if (recordDays < RECORD_DAYS_FULL) return "few-days";
  if (settings.ruleCurve.kind === "fixed") return "fixed-curve";
  if (grade !== "good") return "cautious";
  if (holdsInDoubt) return trusted === "high" ? "doubtful" : "less-often-true";
  return trusted === "high" ? "often-true" : "cautious";
}

function isDisagreeing({ findings }: SiteVerdict): boolean {
  return findings.some(({ code }) => code === "soc-disagrees");
}
