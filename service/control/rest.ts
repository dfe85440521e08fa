/** Rest between two runs, and how often a load may start. */
import { windowRemainingMs } from "./blocks/rolling-count.ts";
import type { Verdict } from "./decision.ts";
import { guardWait } from "./guard.ts";
import { idleWait } from "./learned-power.ts";
import { STARTS_WINDOW_MS } from "./load-timers.ts";
import type { LoadTurn } from "./schedule-turn.ts";
import { fullVerdict, measuredVerdict, timedVerdict } from "./verdict.ts";

/** What a load that is off has to wait for by its own clocks and counts; null: nothing. */
export function restRefusal(turn: LoadTurn, nowMs: number): Verdict | null {
  const { memory, settings } = turn;
  const given = idleWait(memory, settings, nowMs) ?? guardWait(memory, settings, nowMs);
  if (given !== null) return given;
  const restLeftMs = settings.minRestMs - (nowMs - memory.stoppedAtMs);
  if (restLeftMs > 0) return timedVerdict("waiting-rest", 0, restLeftMs);
  const retryLeftMs = (memory.retryAtMs ?? nowMs) - nowMs;
  if (retryLeftMs > 0) return timedVerdict("waiting-retry", 0, retryLeftMs);
  return startsRefusal(turn, nowMs);
}

function startsRefusal({ memory, settings }: LoadTurn, nowMs: number): Verdict | null {
  const { startsPerDayMax } = settings;
  if (startsPerDayMax !== null && memory.startsToday >= startsPerDayMax) {
    const figures = { measured: memory.startsToday, limit: startsPerDayMax };
    return measuredVerdict("waiting-starts-day", 0, figures);
  }
  if (settings.startsPerHourMax === null) return null;
  const startsLeftMs = windowRemainingMs(memory.startsAtMs, {
    limit: settings.startsPerHourMax,
    windowMs: STARTS_WINDOW_MS,
    nowMs,
  });
  if (startsLeftMs === 0) return null;
  return fullVerdict("waiting-starts", 0, {
    measured: memory.startsAtMs.length,
    limit: settings.startsPerHourMax,
    remainingMs: startsLeftMs,
  });
}
