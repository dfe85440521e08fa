import { fixedOffsetCalendar } from "../config/local-calendar.ts";
import type { LocalCalendar } from "../config/local-calendar.ts";
import type { DayFeed } from "./feed.ts";

/** The site's local time; of a recording that was made somewhere else, the time of that place. */
export function recordedCalendar(
  { utcOffsetMs }: Pick<DayFeed, "utcOffsetMs">,
  ofSite: LocalCalendar,
): LocalCalendar {
  return utcOffsetMs === null ? ofSite : fixedOffsetCalendar(utcOffsetMs);
}
