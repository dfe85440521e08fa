/**
 * By whose clock recorded days go. A day of the site itself goes by the site's time zone, as it
 * went for the service, however it is stamped (many records are in UTC, or in winter time all
 * year). One that was made somewhere else goes by its own stamps, row by row: its everyday use and
 * its sun are that place's, and so is the hour at which the clocks there change.
 */
import { stampedCalendar } from "../config/local-calendar.ts";
import type { LocalCalendar, OffsetChange } from "../config/local-calendar.ts";
import type { DaySeries, Place } from "./days/day-file.ts";

/** Nearer than this a record is of the site itself. Ours, no source [deg] */
const OWN_PLACE_DEG = 0.5;

/** The offsets of a record that was made somewhere else, in order of time; null: none. */
export function recordedOffsets(
  { place, timesMs, utcOffsetsMs }: Pick<DaySeries, "place" | "timesMs" | "utcOffsetsMs">,
  sitePlace: Place,
): readonly OffsetChange[] | null {
  if (place === null || isSamePlace(place, sitePlace)) return null;
  const changes: OffsetChange[] = [];
  for (let row = 0; row < timesMs.length; row += 1) {
    const offsetMs = utcOffsetsMs?.[row] ?? place.utcOffsetMs;
    if (changes.at(-1)?.offsetMs !== offsetMs)
      changes.push({ fromMs: timesMs[row] ?? 0, offsetMs });
  }
  return changes;
}

function isSamePlace(one: Place, other: Place): boolean {
  const eastDeg = Math.abs(one.longitudeDeg - other.longitudeDeg) % 360;
  return (
    Math.abs(one.latitudeDeg - other.latitudeDeg) < OWN_PLACE_DEG &&
    Math.min(eastDeg, 360 - eastDeg) < OWN_PLACE_DEG
  );
}

export function recordedCalendar(
  offsets: readonly OffsetChange[] | null,
  ofSite: LocalCalendar,
): LocalCalendar {
  return offsets === null ? ofSite : stampedCalendar(offsets);
}
