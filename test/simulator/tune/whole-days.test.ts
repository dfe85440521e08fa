import { expect, it } from "vitest";
import { createLocalCalendar } from "../../../config/local-calendar.ts";
import { loadSite } from "../../../config/load.ts";
import { step } from "../../../service/control/step.ts";
import type { DaySeries } from "../../../simulator/days/day-file.ts";
import { readDayCsv } from "../../../simulator/days/read-csv.ts";
import { writeDayCsv } from "../../../simulator/days/write-csv.ts";
import { replay } from "../../../simulator/replay.ts";
import { wholeDays } from "../../../simulator/tune/whole-days.ts";
import { syntheticDay } from "../../../simulator/weather/synthetic-day.ts";

const site = loadSite({ path: "config/examples/malga.yaml" });
const calendar = createLocalCalendar(site.timeZone);
const own = { place: site.control, calendar };
const DATES = ["2025-06-12", "2025-06-13", "2025-06-14"];

/** Written in UTC and read again, so that each local day lies on two dates. */
const record: readonly DaySeries[] = DATES.map((localDate, seed) => {
  const text = writeDayCsv(syntheticDay({ site, localDate, seed, kind: "broken" }));
  return readDayCsv(text, `${localDate}.csv`);
});

it("puts what belongs to one local day together, every row once", () => {
  const joined: DaySeries = {
    ...record[0]!,
    timesMs: Float64Array.from(record.flatMap(({ timesMs }) => [...timesMs])),
    columns: new Map(
      [...record[0]!.columns.keys()].map((name) => [
        name,
        Float64Array.from(record.flatMap(({ columns }) => [...columns.get(name)!])),
      ]),
    ),
  };
  for (const given of [record, [joined]]) {
    const days = wholeDays(given, own);
    expect(days).toHaveLength(DATES.length);
    for (const day of days) {
      const localDays = day.flatMap(({ timesMs }) =>
        [...timesMs].map((atMs) => calendar(atMs).localDay),
      );
      expect(new Set(localDays).size).toBe(1);
      expect(localDays).toHaveLength(1440);
    }
  }
});

it("changes nothing in what a replay makes of it", () => {
  const run = (days: readonly DaySeries[]) =>
    replay({
      site,
      days,
      step,
      calendar,
      stepS: 60,
      startFraction: 0.8,
      mayBridge: false,
      plant: null,
      onDecision: null,
    });
  expect(run(wholeDays(record, own).flat())).toEqual(run(record));
});
