import { askedVerdict, floorRefusal, isAskedToRun, isFreeOfMarks } from "./asked.ts";
import { hasHeld, heldRemainingMs } from "./blocks/held-since.ts";
import { stopMarkFraction, stoppedAtMark } from "./band-marks.ts";
import { demandGap } from "./demand.ts";
import type { Verdict } from "./decision.ts";
import { allotmentW } from "./stage-power.ts";
import { invariant } from "./invariant.ts";
import { itemAt } from "./item-at.ts";
import { idleStop } from "./learned-power.ts";
import { isStopUnseen } from "./readings.ts";
import { tryMs } from "./room.ts";
import type { LoadTurn, Schedule, ScheduleInput } from "./schedule-turn.ts";
import { partingVerdict } from "./sockets.ts";
import { fullVerdict, measuredVerdict, timedVerdict, verdictOf } from "./verdict.ts";

/** Why a running load has to go down, and to which stage. */
interface Reduction {
  readonly toStage: number;
  readonly verdict: Verdict;
  /** May not wait for its turn: the load wants nothing more. */
  readonly isOwnWish: boolean;
  /** The battery had to give for it. */
  readonly isForPower: boolean;
  /** Running on would do nothing, or spill water: the minimum run does not hold it. */
  readonly breaksMinRun: boolean;
}

/**
 * Goes through the running loads from the last in the order: at most one is shed per stagger time.
 * A load within its minimum run stays, and sockets go off with a warning.
 */
export function keepOrShed(
  order: readonly LoadTurn[],
  input: ScheduleInput,
  result: Schedule,
): void {
  const nowMs = input.observation.monotonicMs;
  let mayShed = nowMs - input.lastStopMs >= input.settings.staggerMs;
  for (let at = order.length - 1; at >= 0; at -= 1) {
    const turn = itemAt(order, at);
    if (turn.memory.stage === 0) continue;
    const reduction = reductionOf(turn, input);
    if (reduction === null) {
      result.verdicts[turn.index] = stayingVerdict(turn, input);
      continue;
    }
    const held = heldVerdict(turn, reduction, nowMs);
    if (held !== null) {
      result.verdicts[turn.index] = held;
      continue;
    }
    const isTooEarly = reduction.isForPower && isStopUnseen(input);
    if (!reduction.isOwnWish && (!mayShed || isTooEarly)) {
      result.verdicts[turn.index] = queueingVerdict(turn, input);
      continue;
    }
    if (!reduction.isOwnWish) mayShed = false;
    result.stages[turn.index] = reduction.toStage;
    result.powersW[turn.index] = allotmentW(turn, reduction.toStage);
    const { claimW, bandFraction } = input.site;
    const wasLent = turn.memory.isTry || claimW > 0 || bandFraction === null;
    if (wasLent && reduction.isForPower) result.notes[turn.index] = "failed-try";
    result.verdicts[turn.index] = reduction.verdict;
  }
}

/** What keeps a load on that is to go off; null if nothing does. */
function heldVerdict(turn: LoadTurn, reduction: Reduction, nowMs: number): Verdict | null {
  if (reduction.toStage > 0 || reduction.breaksMinRun) return null;
  const { memory, settings, observation } = turn;
  const remainingMs = minRunLeftMs(turn, nowMs);
  if (remainingMs > 0) return timedVerdict("running-min-run", memory.stage, remainingMs);
  return partingVerdict(memory, observation, { settings, nowMs });
}

/** Another load has just been shed; sockets of which people are warned stay so. */
function queueingVerdict(turn: LoadTurn, input: ScheduleInput): Verdict {
  const { memory, settings } = turn;
  if (settings.sockets === null) return stayingVerdict(turn, input);
  return timedVerdict("sockets-going-off", memory.stage, 0);
}

/** Time until the load may stop. [ms] ≥ 0 */
export function minRunLeftMs(turn: LoadTurn, nowMs: number): number {
  const { startedAtMs } = turn.memory;
  invariant(startedAtMs !== null, "a running load must have been started");
  return Math.max(0, turn.settings.minRunMs - (nowMs - startedAtMs));
}

function reductionOf(turn: LoadTurn, input: ScheduleInput): Reduction | null {
  const { memory, settings } = turn;
  const { observation, site } = input;
  const nowMs = observation.monotonicMs;
  const idle = idleStop(memory, settings, nowMs);
  if (idle !== null) return wishedOff(idle, { breaksMinRun: true });
  const gap = demandGap(memory, { site: observation, load: turn.observation }, settings);
  if (gap !== null) {
    const isFull = gap.code === "cistern-full";
    return wishedOff(measuredVerdict(gap.code, 0, gap), { breaksMinRun: isFull });
  }
  const isAsked = isAskedToRun(memory);
  const floor = isAsked ? floorRefusal(site, input.settings.battery) : null;
  if (floor !== null) return shedFor(floor, { isForPower: false });
  const isBelow = hasHeld(memory.belowSinceMs, settings.stopForMs, nowMs);
  if (isBelow && !isFreeOfMarks(memory, site)) {
    const mark = stoppedAtMark(settings, input.view);
    const verdict = measuredVerdict(mark.code, 0, mark);
    // A voltage that falls under its mark says that the power was not there.
    return shedFor(verdict, { isForPower: site.bandFraction === null });
  }
  const isStarved = hasHeld(memory.starvedSinceMs, starvedForMs(turn, input), nowMs);
  if (isAsked || !isStarved) return null;
  if (site.isFullChargeDue) {
    return shedFor(verdictOf("stopped-full-charge", 0), { isForPower: true });
  }
  // What it has above its least power goes first, and not by stages.
  if (settings.modulating !== null && memory.powerW > settings.modulating.minW) return null;
  const figures = powerFiguresOf(input);
  const shortW = (figures.measured ?? 0) * input.settings.inverter.efficiencyFraction;
  const toStage = stageAfterGivingUp(turn, shortW);
  const stopped = memory.isTry ? "stopped-try" : "stopped-power";
  const code = toStage === 0 ? stopped : "running-short-of-power";
  const verdict = measuredVerdict(code, toStage, figures);
  return { toStage, verdict, isOwnWish: false, isForPower: true, breaksMinRun: false };
}

/** By an outlook the band carries a load through a cloud, as long as clouds last. [ms] */
const CLOUD_MS = 600_000;

function starvedForMs({ memory, settings }: LoadTurn, { site }: ScheduleInput): number {
  const isAbove = site.bandFraction !== null && site.bandFraction > 0;
  const mayRideOn = isAbove && site.outlook !== null && !memory.isTry;
  return mayRideOn ? Math.max(settings.stopForMs, CLOUD_MS) : settings.stopForMs;
}

function wishedOff(verdict: Verdict, { breaksMinRun }: Pick<Reduction, "breaksMinRun">): Reduction {
  return { toStage: 0, verdict, isOwnWish: true, isForPower: false, breaksMinRun };
}

function shedFor(verdict: Verdict, { isForPower }: Pick<Reduction, "isForPower">): Reduction {
  return { toStage: 0, verdict, isOwnWish: false, isForPower, breaksMinRun: false };
}

/** Largest lower stage that gives up at least `shortW`; 0 if none does. */
function stageAfterGivingUp(turn: LoadTurn, shortW: number): number {
  const presentW = allotmentW(turn, turn.memory.stage);
  for (let stage = turn.memory.stage - 1; stage > 0; stage -= 1) {
    if (presentW - allotmentW(turn, stage) >= shortW) return stage;
  }
  return 0;
}

function stayingVerdict(turn: LoadTurn, input: ScheduleInput): Verdict {
  const { memory, settings } = turn;
  const { observation, site } = input;
  const nowMs = observation.monotonicMs;
  const { deadline } = settings;
  const asked = askedVerdict(memory, memory.stage, { observation, site, deadline });
  if (asked !== null) return asked;
  const belowMs = heldRemainingMs(memory.belowSinceMs, settings.stopForMs, nowMs);
  if (belowMs !== null) {
    return fullVerdict("running-stop-soon", memory.stage, {
      measured: input.site.socFraction,
      limit: stopMarkFraction(settings, input.site),
      remainingMs: belowMs,
    });
  }
  const starvedMs = heldRemainingMs(memory.starvedSinceMs, starvedForMs(turn, input), nowMs);
  if (starvedMs !== null && input.site.isFullChargeDue) {
    return timedVerdict("running-full-charge", memory.stage, starvedMs);
  }
  if (starvedMs !== null) {
    const { measured, limit } = powerFiguresOf(input);
    const figures = { measured, limit, remainingMs: starvedMs };
    return fullVerdict("running-short-of-power", memory.stage, figures);
  }
  if (memory.isTry && memory.startedAtMs !== null) {
    const triedMs = nowMs - memory.changedAtMs;
    return timedVerdict(
      "running-try",
      memory.stage,
      Math.max(0, tryMs(settings.minRunMs) - triedMs),
    );
  }
  if (settings.modulating !== null) {
    return measuredVerdict("running-follows", memory.stage, {
      measured: memory.powerW,
      limit: settings.modulating.maxW,
    });
  }
  return measuredVerdict("running", memory.stage, {
    measured: input.site.socFraction,
    limit: stopMarkFraction(settings, input.site),
  });
}

/** What the battery gives, or does not get of its claim (null: not seen), and what is allowed. */
function powerFiguresOf({ site, settings }: ScheduleInput): {
  readonly measured: number | null;
  readonly limit: number;
} {
  const { availableW } = site;
  return {
    measured: availableW === null ? null : -availableW,
    limit: settings.battery.toleranceW,
  };
}
