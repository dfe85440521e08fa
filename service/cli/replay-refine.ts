import type { SiteSettings } from "../../config/site-settings.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { HOUR_MS, refineHours } from "../../simulator/weather/refine-hours.ts";
import { readNumber } from "./replay-input.ts";

const SEED_MAX = 2 ** 31 - 1;

/** Hourly days become days of minutes, the others pass as they are; without a seed all do. */
export function readRefine(
  written: string | undefined,
  site: SiteSettings,
): (days: Iterable<DaySeries>) => Iterable<DaySeries> {
  if (written === undefined) return (days) => days;
  const seed = readNumber("--refine", written, { min: 0, max: SEED_MAX });
  const { elevationM } = site.control;
  return function* (days) {
    let index = 0;
    for (const day of days) {
      const place = { ...(day.place ?? site.control), elevationM };
      yield day.stepMs === HOUR_MS ? refineHours(day, place, seed + index) : day;
      index += 1;
    }
  };
}
