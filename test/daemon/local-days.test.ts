/** Local days, where clocks change in both hemispheres. */
import { expect, test } from "vitest";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { dayStretch, dayText, localDayOf } from "../../service/local-days.ts";

const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;

test.each([
  ["Europe/Rome", "2026-03-28", 24, "2026-03-27T23:00:00.000Z"],
  ["Europe/Rome", "2026-03-29", 23, "2026-03-28T23:00:00.000Z"],
  ["Europe/Rome", "2026-10-25", 25, "2026-10-24T22:00:00.000Z"],
  ["Europe/Rome", "2026-10-26", 24, "2026-10-25T23:00:00.000Z"],
  ["Australia/Hobart", "2026-04-05", 25, "2026-04-04T13:00:00.000Z"],
  ["Australia/Hobart", "2026-10-04", 23, "2026-10-03T14:00:00.000Z"],
  ["Australia/Hobart", "2026-10-05", 24, "2026-10-04T13:00:00.000Z"],
])("%s: %s has %i h and begins at %s", (zone, date, hours, begin) => {
  const calendar = createLocalCalendar(zone);
  const localDay = localDayOf(date);
  if (localDay === null) throw new Error(`${date} is a date`);
  const { fromMs, toMs } = dayStretch(localDay, calendar);
  expect(new Date(fromMs).toISOString()).toBe(begin);
  expect((toMs - fromMs) / HOUR_MS).toBe(hours);
  expect(calendar(fromMs)).toMatchObject({ localDay, localMinute: 0 });
  expect(calendar(fromMs - 1)).toMatchObject({ localDay: localDay - 1, localMinute: 1439 });
  expect(calendar(toMs - 1).localDay).toBe(localDay);
  // Each minute of the clock comes once, but for the hour that is left out or comes twice.
  const seen = new Map<number, number>();
  for (let atMs = fromMs; atMs < toMs; atMs += MINUTE_MS) {
    const { localMinute } = calendar(atMs);
    seen.set(localMinute, (seen.get(localMinute) ?? 0) + 1);
  }
  expect(seen.size).toBe(hours === 23 ? 23 * 60 : 24 * 60);
  expect([...seen.values()].filter((times) => times === 2).length).toBe(hours === 25 ? 60 : 0);
});

test("dates that the calendar has, and no others", () => {
  for (const date of ["1970-01-01", "2024-02-29", "2026-12-31"]) {
    expect(dayText(localDayOf(date) ?? NaN)).toBe(date);
  }
  for (const text of ["2026-02-29", "2026-2-3", "26-02-03", "", "2026-02-03T00:00:00Z"]) {
    expect(localDayOf(text)).toBe(null);
  }
});
