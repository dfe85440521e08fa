import { expect, test } from "vitest";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { importText } from "../../service/cli/import-report.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { createSummary } from "../../simulator/import/import-summary.ts";

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const rome = createLocalCalendar("Europe/Rome");

function recorded(from: string, hours: readonly number[]): DaySeries {
  const timesMs = Float64Array.from(hours, (hour) => Date.parse(from) + hour * HOUR_MS);
  return {
    ...{ name: "record", site: null, source: null, place: null, stepMs: HOUR_MS, timesMs },
    utcOffsetsMs: timesMs.map((atMs) => {
      const { localDay, localMinute } = rome(atMs);
      return localDay * DAY_MS + localMinute * 60_000 - atMs;
    }),
    columns: new Map([["base_load_w", timesMs.map(() => 200)]]),
    gaps: [],
  };
}

test("a record's times are told by its own clock, and when that was put forward or back", () => {
  const summary = createSummary();
  summary.add(recorded("2026-03-28T23:00:00Z", [0, 1, 2, 3]));
  summary.add(recorded("2026-03-29T05:00:00Z", [0, 1]));
  summary.add(recorded("2026-10-24T22:00:00Z", [0, 1, 2, 3, 4]));
  const report = { summary: summary.summary()!, unused: [], emptied: {}, written: [] };
  const lines = importText(report).split("\n");
  expect(lines).toContain("from    2026-03-29 00:00:00 to 2026-10-25 04:00:00");
  const at = lines.indexOf("clock   UTC+1 h at the first row");
  expect(lines.slice(at + 1, at + 3)).toEqual([
    "        UTC+2 h from 2026-03-29 03:00:00",
    "        UTC+1 h from 2026-10-25 02:00:00",
  ]);
  expect(lines).toContain("  180 min from 2026-03-29 04:00:00");
});

test("an offset of less than an hour is told in minutes", () => {
  const summary = createSummary();
  const day = recorded("2026-03-02T00:00:00Z", [0, 1]);
  summary.add({ ...day, utcOffsetsMs: day.timesMs.map(() => -3.5 * HOUR_MS) });
  const report = { summary: summary.summary()!, unused: [], emptied: {}, written: [] };
  expect(importText(report)).toContain("clock   UTC−3 h 30 min at the first row");
});
