/** What a load's memory gains from this tick's observation, before anything is decided. */
import { confirm } from "./actuators.ts";
import type { ConfirmationMemory } from "./actuators.ts";
import { askedAfter, askedNow } from "./asked.ts";
import { isAboveStart, isBelowStop, isKeptFromSetpoint } from "./band-marks.ts";
import type { BandView } from "./band-marks.ts";
import { heldSince } from "./blocks/held-since.ts";
import { withinWindow } from "./blocks/rolling-count.ts";
import type { SiteVerdict } from "./decision.ts";
import { runToBeReady } from "./deadline.ts";
import { wantsHeat } from "./demand.ts";
import { advanceGuard, isGuarded, latchOf } from "./guard.ts";
import { learnPower } from "./learned-power.ts";
import type { DrawMemory } from "./draw-memory.ts";
import type { AskedMemory, GuardMemory, LoadLatch, LoadMemory } from "./memory.ts";
import type { LoadObservation, Observation } from "./observation.ts";
import { REST_AFTER_BACK_OFF_MS } from "./modulate.ts";
import type { InverterView } from "./power-step.ts";
import { tryMs } from "./room.ts";
import type { TurnNote } from "./schedule-turn.ts";
import { guardAfter } from "./sockets.ts";
import type { LoadSettings } from "./settings.ts";
import { allotmentW } from "./stage-power.ts";
import { mostDrawnW } from "./surplus.ts";
import type { VerdictCode } from "./verdict-codes.ts";

const MS_PER_HOUR = 3_600_000;
/** Starts per hour are counted over this. [ms] */
export const STARTS_WINDOW_MS = MS_PER_HOUR;

/** First wait after a failed try; each further one of the day doubles it. [ms] */
const FIRST_TRY_BACK_OFF_MS = 600_000;
/** Doublings: 10, 20, 40 … 640 min, which is past any day's light. */
const BACK_OFF_DOUBLINGS_MAX = 6;

/** A clock that steps back over midnight does not begin a day anew; one that was far off does. */
function isOtherDay(day: number, localDay: number): boolean {
  return localDay > day || localDay < day - 1;
}

/** What is the same for all loads in a tick. */
export interface TickNow {
  readonly observation: Observation;
  readonly site: SiteVerdict;
  readonly view: BandView;
  readonly toleranceW: number;
  /** The ticks before this one are too long ago: nobody saw what happened since. */
  readonly isAfterGap: boolean;
}

/** One load in this tick. */
export interface LoadNow {
  readonly settings: LoadSettings;
  readonly observation: LoadObservation;
  readonly nowMs: number;
  readonly dtMs: number;
  readonly inverter: InverterView;
  /** What it has drawn since the tick before. [W] AC */
  readonly drawnW: number;
  /** Its contacts have voltage: on its own, or behind a closed contactor. */
  readonly isLive: boolean;
}

/** What this tick says about the load. */
interface Seen {
  readonly isStopUnheard: boolean;
  readonly isNewDay: boolean;
  readonly energyWh: number;
  readonly confirmation: ConfirmationMemory;
  readonly draw: DrawMemory;
  readonly guard: GuardMemory;
  readonly latch: LoadLatch;
  readonly aboveSinceMs: number | null;
  readonly belowSinceMs: number | null;
  readonly starvedSinceMs: number | null;
  readonly wantsHeat: boolean;
  readonly startsAtMs: readonly number[];
  readonly asked: AskedMemory | null;
}

/** The load after this tick's observation; the same object if it is off and nothing has changed. */
export function advanceTimers(load: LoadMemory, now: LoadNow, tick: TickNow): LoadMemory {
  if (isAtRest(load, now, tick)) return load;
  return advanced(load, now, { seen: lookAt(load, now, tick), tick });
}

/**
 * Off, with nothing to count and nothing new: so it is for most loads at most ticks. What differs
 * most often is asked first.
 */
function isAtRest(load: LoadMemory, now: LoadNow, tick: TickNow): boolean {
  const { settings, observation, nowMs } = now;
  const { view } = tick;
  if (load.stage > 0 || load.isTry || load.starvedSinceMs !== null) return false;
  if (tick.isAfterGap || observation.request !== "none" || isNewDayOf(load, tick)) return false;
  if (isStopUnheard(load, now, tick)) return false;
  return (
    isAboveStart(settings, view) === (load.aboveSinceMs !== null) &&
    isBelowStop(settings, view) === (load.belowSinceMs !== null) &&
    confirm(load, observation, now) === load &&
    learnPower(load, observation, now) === load.draw &&
    wantsHeat(load, observation, settings) === load.wantsHeat &&
    withinWindow(load.startsAtMs, STARTS_WINDOW_MS, nowMs) === load.startsAtMs &&
    isGuardAtRest(load, now) &&
    askedAtTick(load, now, tick) === load.asked
  );
}

/** Stopped as the broker was lost: it may go on unheard. Its rest begins when it can be told. */
function isStopUnheard({ stage, stoppedAtMs }: LoadMemory, now: LoadNow, tick: TickNow): boolean {
  if (tick.observation.isBrokerConnected || stage > 0) return false;
  return now.nowMs - stoppedAtMs <= now.dtMs;
}

function isGuardAtRest(load: LoadMemory, { settings, observation, nowMs }: LoadNow): boolean {
  if (!isGuarded(settings)) return true;
  const input = { settings, nowMs, energyWh: 0, isAfterGap: false, isNewDay: false };
  const guard = advanceGuard(load, observation, input);
  return guard === load.guard && latchOf(load.latch, { guard, observation }, input) === load.latch;
}

function isNewDayOf(load: LoadMemory, { observation }: TickNow): boolean {
  return observation.isWallClockPlausible && isOtherDay(load.day, observation.localDay);
}

function lookAt(load: LoadMemory, now: LoadNow, tick: TickNow): Seen {
  const { settings, observation, nowMs } = now;
  const { view, isAfterGap } = tick;
  const isNewDay = isNewDayOf(load, tick);
  const energyWh = (now.drawnW * now.dtMs) / MS_PER_HOUR;
  const confirmation = confirm(load, observation, now);
  const hasGuard = isGuarded(settings);
  const mostWh = (mostDrawnW(load, observation.powerW) * now.dtMs) / MS_PER_HOUR;
  const guard = hasGuard
    ? advanceGuard(load, observation, { settings, nowMs, energyWh: mostWh, isAfterGap, isNewDay })
    : load.guard;
  const aboveSinceMs = isAfterGap ? null : load.aboveSinceMs;
  return {
    isStopUnheard: isStopUnheard(load, now, tick),
    isNewDay,
    energyWh,
    confirmation,
    draw: learnPower(load, observation, now),
    guard,
    latch: hasGuard ? latchOf(confirmation.latch, { guard, observation }, now) : confirmation.latch,
    aboveSinceMs: heldSince(aboveSinceMs, isAboveStart(settings, view), nowMs),
    belowSinceMs: heldSince(load.belowSinceMs, isBelowStop(settings, view), nowMs),
    starvedSinceMs: heldSince(load.starvedSinceMs, load.stage > 0 && isStarved(load, tick), nowMs),
    wantsHeat: wantsHeat(load, observation, settings),
    startsAtMs: withinWindow(load.startsAtMs, STARTS_WINDOW_MS, nowMs),
    asked: askedAtTick(load, now, tick),
  };
}

function askedAtTick(load: LoadMemory, now: LoadNow, tick: TickNow): AskedMemory | null {
  return askedNow(load, now.observation, now.nowMs) ?? toBeReady(load, now, tick);
}

function toBeReady(load: LoadMemory, now: LoadNow, tick: TickNow): AskedMemory | null {
  const { settings, observation, nowMs } = now;
  if (settings.deadline === null) return null;
  const { socFraction } = tick.site;
  const input = { settings, observation: tick.observation, load: observation };
  return runToBeReady(load, input, { nowMs, socFraction });
}

/** Written out field by field: a spread of so many is what takes the time of a replayed year. */
function advanced(
  load: LoadMemory,
  { settings, observation, nowMs, dtMs }: LoadNow,
  { seen, tick }: { readonly seen: Seen; readonly tick: TickNow },
): LoadMemory {
  const { confirmation, isNewDay, draw } = seen;
  const isRunning = load.stage > 0;
  const triedMs = nowMs - load.changedAtMs;
  const isProven =
    load.isTry && seen.starvedSinceMs === null && triedMs >= tryMs(settings.minRunMs);
  return {
    id: load.id,
    stage: load.stage,
    changedAtMs: load.changedAtMs,
    startedAtMs: load.startedAtMs,
    stoppedAtMs: confirmation.isByHand || seen.isStopUnheard ? nowMs : load.stoppedAtMs,
    aboveSinceMs: seen.aboveSinceMs,
    belowSinceMs: seen.belowSinceMs,
    starvedSinceMs: seen.starvedSinceMs,
    wantsHeat: seen.wantsHeat,
    startsAtMs: seen.startsAtMs,
    day: isNewDay ? tick.observation.localDay : load.day,
    ranTodayMs: (isNewDay ? 0 : load.ranTodayMs) + (isRunning ? dtMs : 0),
    usedTodayWh: (isNewDay ? 0 : load.usedTodayWh) + seen.energyWh,
    startsToday: isNewDay ? 0 : load.startsToday,
    isConfirmed: confirmation.isConfirmed,
    contradictsSinceMs: confirmation.contradictsSinceMs,
    agreesSinceMs: confirmation.agreesSinceMs,
    wasOurs: observation.request === "clear" ? isRunning : load.wasOurs,
    failedConfirmations: confirmation.failedConfirmations,
    retryAtMs: confirmation.retryAtMs,
    isByHand: confirmation.isByHand,
    latch: seen.latch,
    powerW: allottedW(load, draw, settings),
    setAtMs: load.setAtMs,
    riseAfterMs: load.riseAfterMs,
    isTry: load.isTry && !isProven,
    failedTries: isNewDay || isProven ? 0 : load.failedTries,
    tryAfterMs: isNewDay ? nowMs : load.tryAfterMs,
    draw,
    guard: seen.guard,
    asked: seen.asked,
    verdict: load.verdict,
  };
}

/** A load that runs as it was learned just now is allotted that. [W] AC */
function allottedW(load: LoadMemory, draw: DrawMemory, settings: LoadSettings): number {
  if (draw.learnedW === load.draw.learnedW) return load.powerW;
  return allotmentW({ settings, memory: { draw } }, load.stage);
}

/**
 * The battery gets less than its claim, or has to give, and the band lends nothing, or lent only a
 * try; or the load keeps the battery from its set-point.
 */
function isStarved(load: LoadMemory, tick: TickNow): boolean {
  const { view, site } = tick;
  if (isKeptFromSetpoint(site, view)) return true;
  const { availableW, lendableWh, claimW } = site;
  // The band may lend energy, but not the absorption that the battery needs.
  const isLentNothing = lendableWh === 0 || load.isTry || claimW > 0;
  return availableW !== null && availableW < -tick.toleranceW && isLentNothing;
}

export interface LoadOutcome {
  readonly stage: number;
  /** [W] AC */
  readonly powerW: number;
  readonly note: TurnNote;
  readonly verdict: VerdictCode;
}

/**
 * Memory of a load after its stage, power and verdict for this tick are settled; field by field, as
 * above. The same object if it goes on as before.
 */
export function commanded(load: LoadMemory, outcome: LoadOutcome, nowMs: number): LoadMemory {
  const { stage, powerW, verdict, note } = outcome;
  const isSwitched = stage !== load.stage;
  const isSet = isSwitched || powerW !== load.powerW;
  const asked = askedAfter(load, verdict);
  if (!isSet && verdict === load.verdict && asked === load.asked) return load;
  const isStart = isSwitched && load.stage === 0;
  const isStop = isSwitched && stage === 0;
  const trial = isSwitched ? tried(load, note, nowMs) : load;
  return {
    id: load.id,
    stage,
    changedAtMs: isSwitched ? nowMs : load.changedAtMs,
    startedAtMs: isStop ? null : isStart ? nowMs : load.startedAtMs,
    stoppedAtMs: isStop ? nowMs : load.stoppedAtMs,
    aboveSinceMs: load.aboveSinceMs,
    belowSinceMs: load.belowSinceMs,
    starvedSinceMs: isSwitched ? null : load.starvedSinceMs,
    wantsHeat: load.wantsHeat,
    startsAtMs: isStart ? [...load.startsAtMs, nowMs] : load.startsAtMs,
    day: load.day,
    ranTodayMs: load.ranTodayMs,
    usedTodayWh: load.usedTodayWh,
    startsToday: load.startsToday + (isStart ? 1 : 0),
    isConfirmed: !isSwitched && load.isConfirmed,
    contradictsSinceMs: isSwitched ? null : load.contradictsSinceMs,
    agreesSinceMs: isSwitched ? null : load.agreesSinceMs,
    wasOurs: isSwitched || load.wasOurs,
    failedConfirmations: load.failedConfirmations,
    retryAtMs: load.retryAtMs,
    isByHand: load.isByHand,
    latch: load.latch,
    powerW,
    setAtMs: isSet ? nowMs : load.setAtMs,
    riseAfterMs: isSet && note === "backed-off" ? nowMs + REST_AFTER_BACK_OFF_MS : load.riseAfterMs,
    isTry: trial.isTry,
    failedTries: trial.failedTries,
    tryAfterMs: trial.tryAfterMs,
    draw: load.draw,
    guard: guardAfter(load, outcome, nowMs),
    asked,
    verdict,
  };
}

function tried(
  load: LoadMemory,
  note: TurnNote,
  nowMs: number,
): Pick<LoadMemory, "isTry" | "failedTries" | "tryAfterMs"> {
  const { failedTries, tryAfterMs } = load;
  if (note !== "failed-try") return { isTry: note === "try", failedTries, tryAfterMs };
  const doublings = Math.min(BACK_OFF_DOUBLINGS_MAX, failedTries);
  const backOffMs = FIRST_TRY_BACK_OFF_MS * (1 << doublings);
  return { isTry: false, failedTries: failedTries + 1, tryAfterMs: nowMs + backOffMs };
}
