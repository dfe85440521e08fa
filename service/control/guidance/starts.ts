/** What it would come to if an appliance were started at each of the next steps. */
import { itemAt, numberAt } from "../item-at.ts";
import { greatestPowerW, isAllowed, runMs } from "./appliance.ts";
import type { Appliance } from "./appliance.ts";
import { advance, courseWithout } from "./course.ts";
import type { Course, CourseState } from "./course.ts";
import { STEP_H, STEP_MS } from "./prospect.ts";
import type { LocalInstant, Prospect, Side } from "./prospect.ts";

/**
 * - `good`: on the cautious side the battery stays on or above the rule curve at every step, and
 *   most of it comes straight from the sources;
 * - `so-so`: one of the two fails, but in the middle of what is expected it costs nothing;
 * - `costly`: even in the middle it would take the battery below the curve;
 * - `closed`: its hours or the inverter do not allow it.
 */
export type Grade = "good" | "so-so" | "costly" | "closed";

export interface Start {
  readonly grade: Grade;
  /** Most that is missing below the rule curve at any step, and not without it. [1] ≥ 0 */
  readonly cautiousMissing: number;
  readonly middleMissing: number;
  /** On the cautious side the battery would be below the curve, perhaps even without it. */
  readonly isCautiousBelow: boolean;
  /** Straight from the sources, in the middle of what is expected. [1] 0…1 */
  readonly sunShare: number;
  /** What opportunity loads would have had of it. [Wh] ≥ 0 */
  readonly takenWh: number;
  /** Out of the battery and out of the loads' share, in the middle of what is expected. [Wh] ≥ 0 */
  readonly costWh: number;
  /** It also holds on the doubtful side; told of good ones alone. */
  readonly holdsInDoubt: boolean;
  /** Why it is closed. */
  readonly closedBy: "hours" | "inverter" | null;
}

/** A good start is covered by the sources to this share at least. Ours, no source. [1] */
const SUN_SHARE_MIN = 0.75;
/** Less than this is an error of rounding. [1] */
const NOTHING = 1e-6;

export interface StartsInput {
  readonly prospect: Prospect;
  /** [1] 0…1 */
  readonly socFraction: number;
  readonly nowMs: number;
  readonly inverterEfficiency: number;
  /** [W] AC */
  readonly inverterW: number;
  readonly localTimeAt: (wallMs: number) => LocalInstant;
}

/** The courses without any appliance: the same for all of them. */
export interface Courses {
  readonly middle: Course;
  readonly cautious: Course;
  readonly doubtful: Course;
}

export function coursesOf({ prospect, socFraction }: StartsInput): Courses {
  return {
    middle: courseWithout(socFraction, prospect.middle, prospect),
    cautious: courseWithout(socFraction, prospect.cautious, prospect),
    doubtful: courseWithout(socFraction, prospect.doubtful, prospect),
  };
}

/** One for each step from which the run ends before the last sunset. */
export function startsOf(appliance: Appliance, courses: Courses, input: StartsInput): Start[] {
  const run = runOf(appliance, input.inverterEfficiency);
  const { prospect } = input;
  const starts: Start[] = [];
  for (let from = 0; from + run.stepW.length <= prospect.cautious.netW.length; from += 1) {
    const closedBy = closedByOf(from, appliance, input);
    starts.push(closedBy === null ? startAt(from, run, { courses, prospect }) : closed(closedBy));
  }
  return starts;
}

function closed(closedBy: "hours" | "inverter"): Start {
  return {
    grade: "closed",
    isCautiousBelow: false,
    cautiousMissing: 0,
    middleMissing: 0,
    sunShare: 0,
    takenWh: 0,
    costWh: 0,
    holdsInDoubt: false,
    closedBy,
  };
}

interface Run {
  /** At the battery bus, in each of its steps. [W] ≥ 0 */
  readonly stepW: readonly number[];
  readonly wholeWh: number;
}

function runOf(appliance: Appliance, efficiency: number): Run {
  const stepW = stepPowersW(appliance, efficiency);
  return { stepW, wholeWh: stepW.reduce((sum, powerW) => sum + powerW * STEP_H, 0) };
}

/** At the battery bus, in each step of its run. [W] ≥ 0 */
export function stepPowersW(appliance: Appliance, efficiency: number): readonly number[] {
  const stepW = new Array<number>(Math.ceil(runMs(appliance) / STEP_MS)).fill(0);
  let atMs = 0;
  for (const { powerW, forMs } of appliance.profile) {
    let leftMs = forMs;
    while (leftMs > 0) {
      const step = Math.floor(atMs / STEP_MS);
      const partMs = Math.min(leftMs, (step + 1) * STEP_MS - atMs);
      stepW[step] = numberAt(stepW, step) + (powerW * partMs) / STEP_MS / efficiency;
      atMs += partMs;
      leftMs -= partMs;
    }
  }
  return stepW;
}

function closedByOf(
  from: number,
  appliance: Appliance,
  { prospect, nowMs, inverterW, localTimeAt }: StartsInput,
): Start["closedBy"] {
  const startMs = Math.max(nowMs, prospect.fromMs + from * STEP_MS);
  const began = localTimeAt(startMs);
  const ended = localTimeAt(startMs + runMs(appliance) - 1);
  const isOpen = isAllowed(appliance, {
    fromDay: began.localDay,
    fromMinute: began.localMinute,
    toDay: ended.localDay,
    toMinute: ended.localMinute,
  });
  if (!isOpen) return "hours";
  const steps = Math.ceil(runMs(appliance) / STEP_MS);
  const baseW = Math.max(...prospect.baseAcW.slice(from, from + steps));
  return baseW + greatestPowerW(appliance) > inverterW ? "inverter" : null;
}

interface Tried {
  /** More than without the appliance. [1] ≥ 0 */
  readonly missing: number;
  /** With the appliance, whether or not it would be without. */
  readonly isBelow: boolean;
  readonly loadsWh: number;
}

function startAt(
  from: number,
  run: Run,
  { courses, prospect }: { readonly courses: Courses; readonly prospect: Prospect },
): Start {
  const end = from + run.stepW.length;
  const until = itemAt(
    prospect.sunsetSteps,
    prospect.sunsetSteps.findIndex((step) => step >= end),
  );
  const tried = (name: "middle" | "cautious" | "doubtful"): Tried =>
    attempt({ from, until, run }, courses[name], { side: prospect[name], prospect });
  const cautious = tried("cautious");
  const middle = tried("middle");
  const sunShare = sunShareOf(from, run, prospect.middle);
  const takenWh = Math.max(0, numberAt(courses.middle.loadsWh, until) - middle.loadsWh);
  const isGood = !cautious.isBelow && sunShare >= SUN_SHARE_MIN;
  return {
    grade: isGood ? "good" : middle.missing > 0 ? "costly" : "so-so",
    isCautiousBelow: cautious.isBelow,
    cautiousMissing: cautious.missing,
    middleMissing: middle.missing,
    sunShare,
    takenWh,
    costWh: takenWh + (1 - sunShare) * run.wholeWh,
    holdsInDoubt: isGood && !tried("doubtful").isBelow,
    closedBy: null,
  };
}

/** The curve is asked at every step to the next sunset: a dip at dawn counts like one at dusk. */
function attempt(
  { from, until, run }: { readonly from: number; readonly until: number; readonly run: Run },
  without: Course,
  on: { readonly side: Side; readonly prospect: Prospect },
): Tried {
  const state: CourseState = {
    socFraction: numberAt(without.socFraction, from),
    wantWh: numberAt(without.wantWh, from),
    loadsWh: numberAt(without.loadsWh, from),
  };
  let missing = 0;
  let isBelow = false;
  let highest = 0;
  let highestWithout = 0;
  const end = from + run.stepW.length;
  for (let step = from; step < until; step += 1) {
    advance(state, { step, powerW: run.stepW[step - from] ?? 0 }, on);
    const { socFraction } = state;
    const otherwise = numberAt(without.socFraction, step + 1);
    const wanted = numberAt(on.side.curve, step + 1);
    const below = wanted - socFraction;
    isBelow ||= below > NOTHING;
    missing = Math.max(missing, below - Math.max(0, wanted - otherwise));
    highest = Math.max(highest, socFraction);
    highestWithout = Math.max(highestWithout, otherwise);
    if (step >= end && hasRejoined(state, without, step + 1)) {
      const rest = restOf(without, { from: step + 1, until, curve: on.side.curve });
      isBelow ||= rest.isBelow;
      state.loadsWh += rest.loadsWh;
      // From here on both are as full.
      highest = Math.max(highest, rest.highest);
      highestWithout = Math.max(highestWithout, rest.highest);
      break;
    }
  }
  const { completedAt } = on.prospect;
  const unfilled =
    completedAt === null
      ? 0
      : Math.min(completedAt, highestWithout) - Math.min(completedAt, highest);
  missing = Math.max(missing, unfilled);
  return {
    missing: missing > NOTHING ? missing : 0,
    isBelow: isBelow || unfilled > NOTHING,
    loadsWh: state.loadsWh,
  };
}

/** From here on it goes as without the appliance. */
function hasRejoined(state: CourseState, without: Course, at: number): boolean {
  return (
    state.socFraction === numberAt(without.socFraction, at) &&
    state.wantWh === numberAt(without.wantWh, at)
  );
}

function restOf(
  without: Course,
  rest: { readonly from: number; readonly until: number; readonly curve: readonly number[] },
): { readonly isBelow: boolean; readonly highest: number; readonly loadsWh: number } {
  let isBelow = false;
  let highest = 0;
  for (let at = rest.from; at <= rest.until; at += 1) {
    const socFraction = numberAt(without.socFraction, at);
    isBelow ||= numberAt(rest.curve, at) - socFraction > NOTHING;
    highest = Math.max(highest, socFraction);
  }
  const { loadsWh } = without;
  return {
    isBelow,
    highest,
    loadsWh: numberAt(loadsWh, rest.until) - numberAt(loadsWh, rest.from),
  };
}

function sunShareOf(from: number, run: Run, { netW }: Side): number {
  let straightWh = 0;
  for (const [step, powerW] of run.stepW.entries()) {
    const sparedW = Math.max(0, numberAt(netW, from + step));
    straightWh += Math.min(powerW, sparedW) * STEP_H;
  }
  return Math.min(1, straightWh / run.wholeWh);
}
