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

const MS_PER_HOUR = 3_600_000;
/** Starts per hour are counted over this. [ms] */
export const STARTS_WINDOW_MS = MS_PER_HOUR;

/** The day's totals up to this tick: what was `drawn` is added, a new day starts at 0. */
export function countDay(
  load: LoadMemory,
  observation: Observation,
  drawn: { readonly powerW: number; readonly dtMs: number },
): LoadMemory {
  const isNewDay = observation.isWallClockPlausible && isOtherDay(load.day, observation.localDay);
  const day = isNewDay ? observation.localDay : load.day;
  if (load.stage === 0 && !isNewDay) return load;
  const ranMs = load.stage > 0 ? drawn.dtMs : 0;
  return {
    ...load,
    day,
    ranTodayMs: (isNewDay ? 0 : load.ranTodayMs) + ranMs,
    usedTodayWh: (isNewDay ? 0 : load.usedTodayWh) + (drawn.powerW * drawn.dtMs) / MS_PER_HOUR,
    startsToday: isNewDay ? 0 : load.startsToday,
  };
}

/** A clock that steps back over midnight does not begin a day anew; one that was far off does. */
function isOtherDay(day: number, localDay: number): boolean {
  return localDay > day || localDay < day - 1;
}

export interface TimersInput {
  readonly site: SiteVerdict;
  readonly view: BandView;
  readonly settings: LoadSettings;
  readonly toleranceW: number;
  readonly nowMs: number;
}

export function advanceTimers(
  load: LoadMemory,
  observation: LoadObservation,
  input: TimersInput,
): LoadMemory {
  const { settings, view, nowMs } = input;
  const confirmation = confirm(load, observation, { settings, nowMs });
  return {
    ...load,
    ...confirmation,
    wasOurs: observation.request === "clear" ? load.stage > 0 : load.wasOurs,
    aboveSinceMs: heldSince(load.aboveSinceMs, isAboveStart(settings, view), nowMs),
    belowSinceMs: heldSince(load.belowSinceMs, isBelowStop(settings, view), nowMs),
    starvedSinceMs: heldSince(load.starvedSinceMs, load.stage > 0 && isStarved(input), nowMs),
    wantsHeat: wantsHeat(load, observation, settings),
    startsAtMs: withinWindow(load.startsAtMs, STARTS_WINDOW_MS, nowMs),
  };
}

/** The battery gives more than it should have to, and the band lends nothing. */
function isStarved(input: TimersInput): boolean {
  const { availableW, lendableWh } = input.site;
  return availableW !== null && availableW < -input.toleranceW && lendableWh === 0;
}

/** Memory of a load after its stage for this tick is settled. */
export function commandStage(load: LoadMemory, stage: number, nowMs: number): LoadMemory {
  if (stage === load.stage) return load;
  const isStart = load.stage === 0;
  const isStop = stage === 0;
  return {
    ...load,
    stage,
    changedAtMs: nowMs,
    startedAtMs: isStop ? null : isStart ? nowMs : load.startedAtMs,
    stoppedAtMs: isStop ? nowMs : load.stoppedAtMs,
    startsAtMs: isStart ? [...load.startsAtMs, nowMs] : load.startsAtMs,
    startsToday: load.startsToday + (isStart ? 1 : 0),
    starvedSinceMs: null,
    isConfirmed: false,
    contradictsSinceMs: null,
    wasOurs: true,
  };
}
