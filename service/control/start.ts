import { askedVerdict, floorRefusal, isAskedToRun, isFreeOfMarks } from "./asked.ts";
import { hasHeld, heldRemainingMs } from "./blocks/held-since.ts";
import {
  isAboveStart,
  isKeptFromSetpoint,
  stopMarkFraction,
  waitingForMark,
} from "./band-marks.ts";
import { lateVerdict } from "./deadline.ts";
import { demandGap } from "./demand.ts";
import type { SiteFinding, Verdict } from "./decision.ts";
import { itemAt } from "./item-at.ts";
import { allotmentW } from "./stage-power.ts";
import { hiddenForStartW, hiddenLikelyW } from "./hidden-power.ts";
import { atStage, roomRefusal, unseenPowerW } from "./room.ts";
import type { Plan } from "./room.ts";
import { turnOf } from "./schedule-turn.ts";
import type { LoadTurn, Schedule, ScheduleInput } from "./schedule-turn.ts";
import { canPanelClose, isPanelLive } from "./panels.ts";
import { startsUnseenMs } from "./readings.ts";
import { restRefusal } from "./rest.ts";
import { fullVerdict, measuredVerdict, timedVerdict, verdictOf } from "./verdict.ts";
import type { VerdictCode } from "./verdict-codes.ts";
import { displaceFor, planFor, takeFromLater } from "./yielding.ts";

/** What a generator has put into the battery starts nothing for this long after it stopped. [ms] */
const AFTER_GENERATOR_MS = 600_000;

/**
 * Goes through the waiting loads, and the staged ones that could go higher, in the serving order:
 * the first that passes every test is switched; one per stagger time. One that finds no room may
 * have loads ranked after it stopped; until it has been served, none of those is.
 */
export function startWaiting(
  order: readonly LoadTurn[],
  input: ScheduleInput,
  result: Schedule,
): void {
  let isTaken = false;
  for (let at = 0; at < order.length; at += 1) {
    const turn = itemAt(order, at);
    const isRunning = turn.memory.stage > 0;
    if (isRunning && !mayStepUp(turn, input, result)) continue;
    const outcome = refusalOf(turn, input) ?? stageToStart(turn, input, planFor(at, order, result));
    if (typeof outcome === "number") {
      if (isTaken) {
        if (!isRunning) result.verdicts[turn.index] = verdictOf("waiting-priority", 0);
        continue;
      }
      isTaken = true;
      switchTo(outcome, turn, { input, result, at, order });
      continue;
    }
    if (isRunning) continue;
    result.verdicts[turn.index] = late(turn, input, outcome) ?? outcome;
    if (wantPanel(turn, outcome, { input, result })) isTaken = true;
    if (isTaken || !isAnyOnAfter(at, order) || !MADE_BY_STOPPING.has(outcome.code)) continue;
    if (displaceFor(at, order, { input, result })) {
      isTaken = true;
      result.verdicts[turn.index] = verdictOf("waiting-displaces", 0);
    }
  }
}

/**
 * For ticks at which nothing runs: then nobody can make room for anybody, and who is asked first
 * counts only once somebody may start. So it is at most ticks.
 *
 * @returns Whether all loads go on waiting; if not, they are to be asked in their order, anew.
 */
export function allWait(input: ScheduleInput, result: Schedule): boolean {
  const { powersW } = result;
  // Nothing is planned, and nothing yielded: the same zeros.
  const plan = { powersW, yieldedW: powersW, stoppedW: 0 };
  for (let index = 0; index < powersW.length; index += 1) {
    const turn = turnOf(index, input);
    const outcome = refusalOf(turn, input) ?? stageToStart(turn, input, plan);
    if (typeof outcome === "number") return false;
    result.verdicts[index] = late(turn, input, outcome) ?? outcome;
    wantPanel(turn, outcome, { input, result });
  }
  return true;
}

/** It waits for surplus, and has no more time for that. */
function late(turn: LoadTurn, input: ScheduleInput, { code }: Verdict): Verdict | null {
  const { settings, memory, observation } = turn;
  if (settings.deadline === null) return null;
  const { socFraction } = input.site;
  const now = { settings, observation: input.observation, load: observation };
  return lateVerdict(memory, now, { code, socFraction });
}

/** By night, and whenever nobody could make room, it is not even asked who might. */
function isAnyOnAfter(at: number, order: readonly LoadTurn[]): boolean {
  for (let later = at + 1; later < order.length; later += 1) {
    if (itemAt(order, later).memory.stage > 0) return true;
  }
  return false;
}

/** Want of room of a kind that other loads can make. */
const MADE_BY_STOPPING: ReadonlySet<VerdictCode> = new Set<VerdictCode>([
  "waiting-power",
  "waiting-night",
  "waiting-inverter",
  "waiting-apparent",
  "waiting-surge",
  "waiting-leg",
  "waiting-feeder",
  "waiting-discharge-limit",
]);

/** Until the last start shows in the readings, what it takes would be given twice. [ms] */
function staggerLeft(input: ScheduleInput): number {
  const sinceStartMs = input.observation.monotonicMs - input.lastStartMs;
  return Math.max(input.settings.staggerMs - sinceStartMs, startsUnseenMs(input));
}

function switchTo(
  stage: number,
  turn: LoadTurn,
  now: {
    readonly input: ScheduleInput;
    readonly result: Schedule;
    readonly at: number;
    readonly order: readonly LoadTurn[];
  },
): void {
  const { input, result, at, order } = now;
  const { index, settings } = turn;
  const plan = planFor(at, order, result);
  const { powersW, stoppedW } = plan;
  const bare = { powersW, yieldedW: plan.yieldedW.map(() => 0), stoppedW, stage };
  const hiddenW = hiddenForStartW(input, settings);
  let unseenW = unseenPowerW(turn, input, bare) ?? 0;
  if (roomRefusal(turn, input, bare) !== null || unseenW > hiddenW) {
    const missingW = unseenW - hiddenW;
    const later = order.slice(at + 1);
    unseenW -= takeFromLater(missingW, later, { turn, input, result, plan, stage });
  }
  result.stages[index] = stage;
  result.powersW[index] = allotmentW(turn, stage);
  const isAsked = isAskedToRun(turn.memory);
  if (!isAsked && unseenW > 0 && (settings.isTolerant || unseenW <= hiddenW)) {
    result.notes[index] = "try";
    result.verdicts[index] = triedVerdict(stage, { unseenW, surelyW: hiddenW }, input);
    return;
  }
  // What the band lends to a load that may not be tried, it lends for the whole run.
  result.verdicts[index] = startedVerdict(turn, stage, input);
}

function startedVerdict(turn: LoadTurn, stage: number, input: ScheduleInput): Verdict {
  const { memory, settings } = turn;
  const { deadline } = settings;
  const { observation, site } = input;
  const asked = askedVerdict(memory, stage, { observation, site, deadline });
  if (asked !== null) return asked;
  return measuredVerdict("running", stage, {
    measured: input.site.socFraction,
    limit: stopMarkFraction(settings, input.site),
  });
}

/** It starts on power that nothing measured shows yet. */
function triedVerdict(
  stage: number,
  { unseenW, surelyW }: { readonly unseenW: number; readonly surelyW: number },
  input: ScheduleInput,
): Verdict {
  if (unseenW <= surelyW) {
    return measuredVerdict("running-hidden", stage, { measured: surelyW, limit: unseenW });
  }
  return measuredVerdict("running-hidden-maybe", stage, {
    measured: hiddenLikelyW(input),
    limit: unseenW,
  });
}

/** Whether the load's turn is kept for it while its contactor closes. */
function wantPanel(
  turn: LoadTurn,
  outcome: Verdict,
  { input, result }: { readonly input: ScheduleInput; readonly result: Schedule },
): boolean {
  const { panelIndex } = turn.settings;
  if (outcome.code !== "waiting-contactor" || panelIndex === null) return false;
  result.wantsPanel[panelIndex] = true;
  return canPanelClose(panelIndex, input);
}

/** The stage to switch to now, or why there is no room or it is not the time. */
function stageToStart(turn: LoadTurn, input: ScheduleInput, plan: Plan): number | Verdict {
  const stage = fittingStage(turn, input, plan);
  if (typeof stage !== "number") return stage;
  return staggerOrContactor(turn, input) ?? stage;
}

/** A running staged load that is neither being reduced nor at its top, and has settled. */
function mayStepUp(turn: LoadTurn, input: ScheduleInput, result: Schedule): boolean {
  const { memory, settings, index } = turn;
  const isSettled = input.observation.monotonicMs - memory.changedAtMs >= settings.startForMs;
  const code = result.verdicts[index]?.code;
  return (
    (code === "running" || code === "running-asked" || code === "running-to-be-ready") &&
    result.stages[index] === memory.stage &&
    memory.stage < settings.stagesW.length &&
    memory.isConfirmed &&
    isSettled
  );
}

/** Everything that speaks against a start before power is looked at; null if nothing does. */
function refusalOf(turn: LoadTurn, input: ScheduleInput): Verdict | null {
  const { memory, settings } = turn;
  const { observation, view } = input;
  const nowMs = observation.monotonicMs;
  const interlock = itemAt(input.held, turn.index);
  if (interlock !== null && interlock.code !== "panel-open") return interlock;
  if (memory.isByHand) return verdictOf("by-hand", 0);
  const gap = demandGap(memory, { site: observation, load: turn.observation }, settings);
  if (gap !== null) return measuredVerdict(gap.code, 0, gap);
  if (memory.stage === 0) {
    const waiting = restRefusal(turn, nowMs);
    if (waiting !== null) return waiting;
  }
  const floor = isAskedToRun(memory) ? floorRefusal(input.site, view.battery) : null;
  if (floor !== null) return floor;
  const marks = isFreeOfMarks(memory, input.site) ? null : markRefusal(turn, input);
  if (marks !== null) return marks;
  const high = input.site.findings.find(isHighVoltage);
  if (high !== undefined) return measuredVerdict("waiting-high-voltage", 0, high);
  const isShutOut = settings.panelIndex !== null && !canPanelClose(settings.panelIndex, input);
  return isShutOut ? verdictOf("waiting-contactor", 0) : null;
}

/** The battery is not, or not long enough, at the load's start mark by its own doing. */
function markRefusal(turn: LoadTurn, input: ScheduleInput): Verdict | null {
  const { memory, settings } = turn;
  const { view } = input;
  const nowMs = input.observation.monotonicMs;
  if (!isAboveStart(settings, view)) {
    const mark = waitingForMark(settings, view);
    const { measured, limit } = mark;
    return fullVerdict(mark.code, 0, { measured, limit, remainingMs: untilStartMs(turn, input) });
  }
  if (!hasHeld(memory.aboveSinceMs, settings.startForMs, nowMs)) {
    const { startForMs } = settings;
    const remainingMs = heldRemainingMs(memory.aboveSinceMs, startForMs, nowMs);
    return fullVerdict("waiting-dwell", 0, { measured: null, limit: null, remainingMs });
  }
  const generatorLeftMs = (input.generatorAtMs ?? -Infinity) + AFTER_GENERATOR_MS - nowMs;
  if (generatorLeftMs > 0 && !settings.mayLoadGenerator) {
    return timedVerdict("waiting-generator", 0, generatorLeftMs);
  }
  // It would be stopped for that, and start again once it has rested.
  if (!isKeptFromSetpoint(input.site, view)) return null;
  return verdictOf(input.site.isFullChargeDue ? "waiting-full-charge" : "waiting-full", 0);
}

const isHighVoltage = ({ code }: SiteFinding): boolean => code === "voltage-high";

/** Until the outlook's likely course of the battery passes the start mark; null: not known. [ms] */
function untilStartMs({ index }: LoadTurn, { site, observation }: ScheduleInput): number | null {
  const startsAtMs = site.outlook?.startsAtMs[index] ?? null;
  return startsAtMs === null ? null : Math.max(0, startsAtMs - observation.wallMs);
}

/** The largest stage that everything has room for, or why not even the smallest has. */
function fittingStage(turn: LoadTurn, input: ScheduleInput, plan: Plan): number | Verdict {
  const { stagesW } = turn.settings;
  let refusal = verdictOf("waiting-power", 0);
  for (let stage = stagesW.length; stage > turn.memory.stage; stage -= 1) {
    const found = roomRefusal(turn, input, atStage(plan, stage));
    if (found === null) return stage;
    refusal = found;
  }
  return refusal;
}

function staggerOrContactor(turn: LoadTurn, input: ScheduleInput): Verdict | null {
  const staggerLeftMs = staggerLeft(input);
  if (staggerLeftMs > 0) return timedVerdict("waiting-stagger", 0, staggerLeftMs);
  const { panelIndex } = turn.settings;
  if (panelIndex === null) return null;
  return isPanelLive(panelIndex, input) ? null : verdictOf("waiting-contactor", 0);
}
