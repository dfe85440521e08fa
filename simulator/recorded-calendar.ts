import type { LocalCalendar } from "../config/local-calendar.ts";
import type { DayFeed } from "./feed.ts";

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

/** The site's local time; of a recording that was made somewhere else, the time of that place. */
export function recordedCalendar(feed: DayFeed, ofSite: LocalCalendar): LocalCalendar {
  return feed.utcOffsetMs === null ? ofSite : fixedOffset(feed.utcOffsetMs);
}

function fixedOffset(offsetMs: number): LocalCalendar {
  return (wallMs) => {
    const localMs = wallMs + offsetMs;
    const localDay = Math.floor(localMs / DAY_MS);
    return { localDay, localMinute: Math.floor((localMs - localDay * DAY_MS) / MINUTE_MS) };
  };
}
