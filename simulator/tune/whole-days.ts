import type { LocalCalendar } from "../../config/local-calendar.ts";
import { rowsOf } from "../days/cut-series.ts";
import type { DaySeries } from "../days/day-file.ts";

const DAY_MS = 86_400_000;

/**
 * The record cut at local midnight: files end where their stamps do, which may be anywhere in the
 * day.
 *
 * @param calendar - Of the site, for what does not say where it was recorded.
 * @returns a list for each local day, with the pieces of it.
 */
export function wholeDays(
  record: Iterable<DaySeries>,
  calendar: LocalCalendar,
): readonly (readonly DaySeries[])[] {
  const days = new Map<number, DaySeries[]>();
  for (const series of record) {
    const localDay = (row: number): number => {
      const atMs = series.timesMs[row] ?? 0;
      if (series.place === null) return calendar(atMs).localDay;
      return Math.floor((atMs + series.place.utcOffsetMs) / DAY_MS);
    };
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
