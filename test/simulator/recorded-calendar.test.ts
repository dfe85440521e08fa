/** By whose clock recorded days go, on the days on which the clocks change and over them. */
import { describe, expect, test } from "vitest";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { LocalCalendar } from "../../config/local-calendar.ts";
import { loadSite } from "../../config/load.ts";
import { step } from "../../service/control/step.ts";
import { collectSteps } from "../../simulator/bound/collect-steps.ts";
import type { DaySeries, Place } from "../../simulator/days/day-file.ts";
import { readDayCsv } from "../../simulator/days/read-csv.ts";
import { writeDayCsv } from "../../simulator/days/write-csv.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import { replay } from "../../simulator/replay.ts";
import { createShed } from "../../simulator/shed.ts";
import { wholeDays } from "../../simulator/tune/whole-days.ts";
import { refineHours } from "../../simulator/weather/refine-hours.ts";

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
const STEP_MS = 10 * MINUTE_MS;

const site = loadSite({ path: "config/examples/malga.yaml" });
const siteCalendar = createLocalCalendar(site.timeZone);
const { latitudeDeg, longitudeDeg } = site.control;

/** NREL's station in Golden, Colorado. */
const GOLDEN: Place = { latitudeDeg: 39.742, longitudeDeg: -105.18 };
/** US: second Sunday of March and first of November, at 02:00 of the clocks until then. */
const DENVER = "America/Denver";

function offsetMs(atMs: number, calendar: LocalCalendar): number {
  const { localDay, localMinute } = calendar(atMs);
  return localDay * DAY_MS + localMinute * MINUTE_MS - Math.floor(atMs / MINUTE_MS) * MINUTE_MS;
}

interface Record {
  readonly place: Place | null;
  /** Of the stamps. */
  readonly clock: LocalCalendar;
  readonly from: string;
  readonly to: string;
  readonly stepMs?: number;
}

/** As a file holds it: written, and read again. */
function recordOf({ place, clock, from, to, stepMs = STEP_MS }: Record): DaySeries {
  const startMs = Date.parse(from);
  const rows = (Date.parse(to) - startMs) / stepMs;
  const timesMs = Float64Array.from({ length: rows }, (_, row) => startMs + row * stepMs);
  const series: DaySeries = {
    name: "record",
    site: null,
    source: null,
    place: place === null ? null : { ...place, utcOffsetMs: offsetMs(startMs, clock) },
    stepMs,
    timesMs,
    utcOffsetsMs: timesMs.map((atMs) => offsetMs(atMs, clock)),
    columns: new Map([
      ["pv_potential_w", timesMs.map(() => 1500)],
      ["base_load_w", timesMs.map(() => 200)],
    ]),
    gaps: [],
  };
  return readDayCsv(writeDayCsv(series), "record.csv");
}

/** Two days, and the night between them in which the clocks change. */
const CHANGES = [
  ["in spring", "2026-03-07T07:00:00Z", "2026-03-09T06:00:00Z"],
  ["in autumn", "2026-10-31T06:00:00Z", "2026-11-02T07:00:00Z"],
] as const;

interface Seen {
  readonly wallMs: number;
  readonly localDay: number;
  readonly localMinute: number;
}

const lookedUp = (calendar: LocalCalendar, seen: readonly Seen[]): readonly Seen[] =>
  seen.map(({ wallMs }) => {
    const { localDay, localMinute } = calendar(wallMs);
    return { wallMs, localDay, localMinute };
  });

function replayed(days: readonly DaySeries[]): readonly Seen[] {
  const seen: Seen[] = [];
  replay({
    ...{ site, days, step, calendar: siteCalendar, stepS: 600, startFraction: 0.8 },
    ...{ mayBridge: false, plant: null },
    onDecision: (_decision, { wallMs, localDay, localMinute }) => {
      seen.push({ wallMs, localDay, localMinute });
    },
  });
  return seen;
}

describe.each(CHANGES)(
  "a record from elsewhere that goes on while its clocks change %s",
  (_, from, to) => {
    const denver = createLocalCalendar(DENVER);
    const record = recordOf({ place: GOLDEN, clock: denver, from, to });

    test("is replayed by its own stamps at every tick", () => {
      const seen = replayed([record]);
      expect(seen.length).toBeGreaterThan(280);
      expect(seen).toEqual(lookedUp(denver, seen));
    });

    test("has its bound on the same days", () => {
      const { steps } = collectSteps({
        ...{ site, plant: plantSettings(site), days: [record], calendar: siteCalendar },
        ...{ stepS: 60, quarterMin: 15, startFraction: 0.8, mayBridge: false },
      });
      const hours = new Map<number, number>();
      for (const { localDay, hours: h } of steps)
        hours.set(localDay, (hours.get(localDay) ?? 0) + h);
      const days = wholeDays([record], { place: site.control, calendar: siteCalendar });
      expect(days.map(([piece]) => denver(piece?.timesMs[0] ?? NaN))).toMatchObject([
        { localDay: denver(Date.parse(from)).localDay, localMinute: 0 },
        { localDay: denver(Date.parse(from)).localDay + 1, localMinute: 0 },
      ]);
      expect(hours.size).toBe(2);
      for (const [place, pieces] of days.entries()) {
        const rows = pieces.reduce((sum, { timesMs }) => sum + timesMs.length, 0);
        expect([...hours.values()][place]).toBeCloseTo((rows * STEP_MS) / HOUR_MS, 9);
      }
    });

    test("is a shed's time, day after day", () => {
      const days = wholeDays([record], { place: site.control, calendar: siteCalendar }).flat();
      const shed = createShed({
        ...{ site, days, calendar: siteCalendar, startFraction: 0.8, mayBridge: false },
        lastDecision: () => null,
      });
      for (const wallMs of record.timesMs) {
        const elapsedMs = wallMs - shed.startWallMs;
        expect(shed.utcOffsetMsAt(elapsedMs)).toBe(offsetMs(wallMs, denver));
        const { localDay, localMinute } = denver(wallMs);
        expect(shed.calendar(wallMs)).toMatchObject({ localDay, localMinute });
      }
    });

    test("keeps its stamps when its hours are made minutes", () => {
      const hourly = recordOf({ place: GOLDEN, clock: denver, from, to, stepMs: HOUR_MS });
      const seen = replayed([refineHours(hourly, { ...GOLDEN, elevationM: 1829 }, 1)]);
      expect(seen).toEqual(lookedUp(denver, seen));
    });
  },
);

/** EU: last Sundays of March and October, at 01:00 UTC. */
describe.each([
  ["in spring", "2026-03-28T00:00:00Z", "2026-03-30T00:00:00Z"],
  ["in autumn", "2026-10-24T00:00:00Z", "2026-10-26T00:00:00Z"],
])("a record of the site itself goes by the site's zone %s", (_, from, to) => {
  const utc = createLocalCalendar("UTC");
  const winter = createLocalCalendar("Etc/GMT-1");

  test.each([
    ["stamped in UTC", utc, { latitudeDeg, longitudeDeg }],
    ["stamped in winter time all year", winter, { latitudeDeg, longitudeDeg }],
    ["of the next valley", utc, { latitudeDeg: latitudeDeg + 0.4, longitudeDeg }],
    ["stamped by the site's own clock", siteCalendar, { latitudeDeg, longitudeDeg }],
    ["that does not say where it was made", utc, null],
  ] as const)("%s", (_how, clock, place) => {
    const seen = replayed([recordOf({ place, clock, from, to })]);
    expect(seen).toEqual(lookedUp(siteCalendar, seen));
  });

  test("but one from further away by its stamps", () => {
    const place = { latitudeDeg: latitudeDeg + 0.6, longitudeDeg };
    const seen = replayed([recordOf({ place, clock: utc, from, to })]);
    expect(seen).toEqual(lookedUp(utc, seen));
  });
});

test("the 180th meridian divides no place", () => {
  const taveuni = { latitudeDeg: -16.8, longitudeDeg: 179.9 };
  const record = recordOf({
    ...{ place: { latitudeDeg: -16.8, longitudeDeg: -179.9 }, clock: createLocalCalendar("UTC") },
    ...{ from: "2026-03-28T00:00:00Z", to: "2026-03-28T01:00:00Z" },
  });
  const fiji = createLocalCalendar("Pacific/Fiji");
  const [day] = wholeDays([record], { place: taveuni, calendar: fiji });
  expect(day).toHaveLength(1);
  const late = recordOf({
    ...{ place: { latitudeDeg: -16.8, longitudeDeg: -179.9 }, clock: createLocalCalendar("UTC") },
    ...{ from: "2026-03-28T11:00:00Z", to: "2026-03-28T13:00:00Z" },
  });
  expect(wholeDays([late], { place: taveuni, calendar: fiji })).toHaveLength(2);
});
