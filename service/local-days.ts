/** Local calendar days as stretches of time, and as people write them. */
import type { LocalCalendar } from "../config/local-calendar.ts";

const DAY_MS = 86_400_000;
/** No zone is further from UTC, with a day to spare. [ms] */
const REACH_MS = 2 * DAY_MS;

export interface DayStretch {
  readonly localDay: number;
  readonly fromMs: number;
  /** Not included. */
  readonly toMs: number;
}

/** From its first instant to that of the next day: 23 or 25 h long where the clocks change. */
export function dayStretch(localDay: number, calendar: LocalCalendar): DayStretch {
  const fromMs = firstInstant(localDay, calendar);
  return { localDay, fromMs, toMs: firstInstant(localDay + 1, calendar) };
}

function firstInstant(localDay: number, calendar: LocalCalendar): number {
  let before = localDay * DAY_MS - REACH_MS;
  let after = localDay * DAY_MS + REACH_MS;
  while (after - before > 1) {
    const middle = Math.floor((before + after) / 2);
    if (calendar(middle).localDay < localDay) before = middle;
    else after = middle;
  }
  return after;
}

/** @param text - `2026-03-02` @returns null for what is no date of the calendar. */
export function localDayOf(text: string): number | null {
  if (!/^\d{4}-\d{2}-\d{2}$/u.test(text)) return null;
  const atMs = Date.parse(`${text}T00:00:00Z`);
  if (Number.isNaN(atMs)) return null;
  const localDay = atMs / DAY_MS;
  return dayText(localDay) === text ? localDay : null;
}

export function dayText(localDay: number): string {
  return new Date(localDay * DAY_MS).toISOString().slice(0, 10);
}
