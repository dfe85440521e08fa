/** What a load's memory gains from this tick's observation, before anything is decided. */
import { confirm } from "./actuators.ts";
import { isAboveStart, isBelowStop } from "./band-marks.ts";
import type { BandView } from "./band-marks.ts";
import { heldSince } from "./blocks/held-since.ts";
import { withinWindow } from "./blocks/rolling-count.ts";
import type { SiteVerdict } from "./decision.ts";
import { wantsHeat } from "./demand.ts";
import type { LoadMemory } from "./memory.ts";
import type { LoadObservation, Observation } from "./observation.ts";
import type { LoadSettings } from "./settings.ts";
import type { VerdictCode } from "./verdict-codes.ts";

const MS_PER_HOUR = 3_600_000;
/** Starts per hour are counted over this. [ms] */
export const STARTS_WINDOW_MS = MS_PER_HOUR;

/** A clock that steps back over midnight does not begin a day anew; one that was far off does. */
function isOtherDay(day: number, localDay: number): boolean {
  return localDay > day || localDay < day - 1;
}

export interface TimersInput {
  readonly site: SiteVerdict;
  readonly view: BandView;
  readonly settings: LoadSettings;
  readonly toleranceW: number;
  /** What the load has drawn since the tick before. [W] AC */
  readonly drawnW: number;
  readonly dtMs: number;
  /** The ticks before this one are too long ago: nobody saw what happened since. */
  readonly isAfterGap: boolean;
  /** Its contacts have voltage: on its own, or behind a closed contactor. */
  readonly isLive: boolean;
}

/**
 * Written out field by field: this runs for every load at every tick, and in a replayed year a
 * spread of so many fields is what takes the time.
 */
export function advanceTimers(
  load: LoadMemory,
  observation: { readonly site: Observation; readonly load: LoadObservation },
  input: TimersInput,
): LoadMemory {
  const { settings, view, dtMs } = input;
  const { monotonicMs: nowMs, localDay } = observation.site;
  const confirmation = confirm(load, observation.load, { settings, nowMs, isLive: input.isLive });
  const aboveSinceMs = input.isAfterGap ? null : load.aboveSinceMs;
  const isNewDay = observation.site.isWallClockPlausible && isOtherDay(load.day, localDay);
  const isRunning = load.stage > 0;
  return {
    id: load.id,
    stage: load.stage,
    changedAtMs: load.changedAtMs,
    startedAtMs: load.startedAtMs,
    stoppedAtMs: confirmation.isByHand ? nowMs : load.stoppedAtMs,
    aboveSinceMs: heldSince(aboveSinceMs, isAboveStart(settings, view), nowMs),
    belowSinceMs: heldSince(load.belowSinceMs, isBelowStop(settings, view), nowMs),
    starvedSinceMs: heldSince(load.starvedSinceMs, isRunning && isStarved(input), nowMs),
    wantsHeat: wantsHeat(load, observation.load, settings),
    startsAtMs: withinWindow(load.startsAtMs, STARTS_WINDOW_MS, nowMs),
    day: isNewDay ? localDay : load.day,
    ranTodayMs: (isNewDay ? 0 : load.ranTodayMs) + (isRunning ? dtMs : 0),
    usedTodayWh: (isNewDay ? 0 : load.usedTodayWh) + (input.drawnW * dtMs) / MS_PER_HOUR,
    startsToday: isNewDay ? 0 : load.startsToday,
    isConfirmed: confirmation.isConfirmed,
    contradictsSinceMs: confirmation.contradictsSinceMs,
    agreesSinceMs: confirmation.agreesSinceMs,
    wasOurs: observation.load.request === "clear" ? isRunning : load.wasOurs,
    failedConfirmations: confirmation.failedConfirmations,
    retryAtMs: confirmation.retryAtMs,
    isByHand: confirmation.isByHand,
    latch: confirmation.latch,
    powerW: load.powerW,
    riseAfterMs: load.riseAfterMs,
    isTry: load.isTry,
    failedTries: load.failedTries,
    tryAfterMs: load.tryAfterMs,
    learnedW: load.learnedW,
    powerBeforeW: load.powerBeforeW,
    idleSinceMs: load.idleSinceMs,
    idleTimes: load.idleTimes,
    heating: load.heating,
    drySinceMs: load.drySinceMs,
    wantsFilling: load.wantsFilling,
    requestedAtMs: load.requestedAtMs,
    warnedSinceMs: load.warnedSinceMs,
    verdict: load.verdict,
  };
}

/**
 * The battery gives more than it should have to, and the band lends nothing; or a full charge is
 * overdue and the load keeps the battery from its set-point, which no discharge has to show.
 */
function isStarved(input: TimersInput): boolean {
  if (input.site.isFullChargeDue && !input.view.isAtSetpoint) return true;
  const { availableW, lendableWh } = input.site;
  return availableW !== null && availableW < -input.toleranceW && lendableWh === 0;
}

/** Memory of a load after its stage and verdict for this tick are settled. */
export function commanded(
  load: LoadMemory,
  outcome: { readonly stage: number; readonly verdict: VerdictCode },
  nowMs: number,
): LoadMemory {
  const { stage, verdict } = outcome;
  if (stage === load.stage) return verdict === load.verdict ? load : { ...load, verdict };
  const isStart = load.stage === 0;
  const isStop = stage === 0;
  return {
    ...load,
    stage,
    verdict,
    changedAtMs: nowMs,
    startedAtMs: isStop ? null : isStart ? nowMs : load.startedAtMs,
    stoppedAtMs: isStop ? nowMs : load.stoppedAtMs,
    startsAtMs: isStart ? [...load.startsAtMs, nowMs] : load.startsAtMs,
    startsToday: load.startsToday + (isStart ? 1 : 0),
    starvedSinceMs: null,
    isConfirmed: false,
    contradictsSinceMs: null,
    agreesSinceMs: null,
    wasOurs: true,
  };
}
