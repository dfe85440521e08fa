import type { LocalCalendar } from "../../config/local-calendar.ts";
import { rowsOf } from "../days/cut-series.ts";
import type { DaySeries, Place } from "../days/day-file.ts";
import { recordedCalendar, recordedOffsets } from "../recorded-calendar.ts";

/**
 * The record cut at local midnight: files end where their stamps do, which may be anywhere in the
 * day.
 *
 * @param site - Its place and its clock, for what was recorded there, or does not say where.
 * @returns a list for each local day, with the pieces of it.
 */
export function wholeDays(
  record: Iterable<DaySeries>,
  site: { readonly place: Place; readonly calendar: LocalCalendar },
): readonly (readonly DaySeries[])[] {
  const days = new Map<number, DaySeries[]>();
  for (const series of record) {
    const calendar = recordedCalendar(recordedOffsets(series, site.place), site.calendar);
    const localDay = (row: number): number => calendar(series.timesMs[row] ?? 0).localDay;
    let from = 0;
    for (let row = 1; row <= series.timesMs.length; row += 1) {
      if (row < series.timesMs.length && localDay(row) === localDay(from)) continue;
      const day = localDay(from);
      days.set(day, [...(days.get(day) ?? []), rowsOf(series, from, row)]);
      from = row;
    }
  }
  return [...days.values()];
}
