/** A recorded day out of the history, with the days around it that tell how the site is. */
import { join } from "node:path";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { GAP_MAX_MS } from "../../simulator/days/day-file.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { UserError } from "../errors.ts";
import { recordedDays } from "../history/reading/days.ts";
import { openReader } from "../history/reading/reader.ts";
import { DATABASE_FILE } from "../history/scribe.ts";
import { dayStretch, dayText } from "../local-days.ts";
import type { DayStretch } from "../local-days.ts";
import { exportedDays } from "./export-days.ts";

export interface Recorded {
  readonly stretch: DayStretch;
  readonly day: DaySeries;
  /** With the day itself, in order of time. */
  readonly around: readonly DaySeries[];
  /** Longer holes than a day file may have. [ms] */
  readonly holesMs: number;
}

/** Enough to see the sun at most of its places, and soon read. Ours, no source */
const DAYS_BEFORE = 7;
const DAYS_AFTER = 2;

/** @throws UserError if nothing was recorded on that day; Error of the database */
export function recordedAround(site: SiteSettings, localDay: number, alone = false): Recorded {
  const calendar = createLocalCalendar(site.timeZone);
  const reader = openReader(join(site.history.folder, DATABASE_FILE));
  try {
    const [fromDay, toDay] = alone
      ? [localDay, localDay]
      : [localDay - DAYS_BEFORE, localDay + DAYS_AFTER];
    const days = recordedDays(reader, { fromDay, toDay, limit: DAYS_BEFORE + DAYS_AFTER + 1 });
    const options = { site, calendar, withPotential: false };
    const around = [...exportedDays(reader, days.toReversed(), options)];
    const stretch = dayStretch(localDay, calendar);
    const day = around.find(({ timesMs }) => isWithin(timesMs[0] ?? NaN, stretch));
    if (day === undefined) throw nothingRecorded(localDay);
    return { stretch, day, around, holesMs: holesMs(day) };
  } finally {
    reader.close();
  }
}

function isWithin(atMs: number, { fromMs, toMs }: DayStretch): boolean {
  return atMs >= fromMs && atMs < toMs;
}

function holesMs({ timesMs, stepMs }: DaySeries): number {
  let sumMs = 0;
  for (let row = 1; row < timesMs.length; row += 1) {
    const betweenMs = (timesMs[row] ?? 0) - (timesMs[row - 1] ?? 0);
    if (betweenMs > GAP_MAX_MS) sumMs += betweenMs - stepMs;
  }
  return sumMs;
}

function nothingRecorded(localDay: number): UserError {
  const expected = "a day on which the service ran";
  return new UserError([{ code: "days-missing", where: dayText(localDay), expected }]);
}
