/** What a week came to, out of a history whose sums can be worked out on paper. */
import { join } from "node:path";
import { expect, test } from "vitest";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { lookBackText } from "../../service/cli/report-text.ts";
import { openReader } from "../../service/history/reading/reader.ts";
import { dayStretch, localDayOf } from "../../service/local-days.ts";
import { lookBack } from "../../service/look-back/look-back.ts";
import type { Period } from "../../service/look-back/look-back.ts";
import { mondayOfWeek } from "../../service/look-back/iso-week.ts";
import { lookBackSchema } from "../../service/look-back/report-schema.ts";
import type { LookBack } from "../../service/look-back/report-schema.ts";
import { scratchFolders } from "../history/scratch.ts";
import { testSite } from "../support/site.ts";
import { createRecorder } from "./recorded.ts";
import type { Figures, Recorder } from "./recorded.ts";

const newFolder = scratchFolders();
const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const site = testSite();
const calendar = createLocalCalendar("Europe/Rome");

const week = (name: string): Period => {
  const monday = mondayOfWeek(name)!;
  return { kind: "week", name, fromDay: monday, toDay: monday + 6 };
};
const stretchOf = (localDay: number) => dayStretch(localDay, calendar);

/**
 * From 10 to 16 h by the clock the sources give 2 kW and could give 3; from 12 to 14 h the heater
 * takes 1 kW. Dark from 20 h; 300 W of everyday use all the time.
 */
function usualMinute(atMs: number): Figures {
  const { localMinute } = calendar(atMs);
  const hour = localMinute / 60;
  const isSunny = hour >= 10 && hour < 16;
  const isHeating = hour >= 12 && hour < 14;
  return {
    "decision.sourcesPowerW": isSunny ? 2_000 : 0,
    "decision.potentialW": isSunny ? 3_000 : 0,
    "decision.isCurtailed": isSunny ? 1 : 0,
    "decision.isDaylight": hour >= 7 && hour < 20 ? 1 : 0,
    "decision.socFraction": hour < 20 ? 0.95 : 0.9,
    "decision.bandFraction": 0.01,
    "decision.batteryPowerW": isSunny ? 500 : -300,
    "inverter.powerW": isHeating ? 1_300 : 300,
    "decision.loads.water-heater.allottedW": isHeating ? 1_000 : 0,
  };
}

function recorded(fill: (recorder: Recorder) => void): string {
  const path = join(newFolder(), "history.db");
  const recorder = createRecorder(path);
  fill(recorder);
  recorder.close();
  return path;
}

function reported(
  path: string,
  period: Period,
  { nowMs = Date.UTC(2027, 0, 1), of = site }: { nowMs?: number; of?: SiteSettings } = {},
): LookBack | null {
  const reader = openReader(path);
  try {
    return lookBack(reader, of, { period, nowMs });
  } finally {
    reader.close();
  }
}

/** All of it, with a start of the heater each day at noon. */
function wholeWeek(recorder: Recorder, period: Period): void {
  for (let day = period.fromDay; day <= period.toDay; day += 1) {
    const { fromMs, toMs } = stretchOf(day);
    recorder.minutes(fromMs, toMs, usualMinute);
    const noonMs = toMs - 12 * HOUR_MS;
    const started = { about: "load", owner: "water-heater", change: "started" } as const;
    recorder.event({ atMs: noonMs, ...started, code: "running-on" });
    recorder.decided(noonMs, "water-heater", "running-min-run", 1);
    recorder.decided(noonMs + 2 * HOUR_MS, "water-heater", "waiting-band", 0, [0.9, 0.96]);
  }
}

test("a whole week: sums of days, and days as the page of days shows them", () => {
  const period = week("2026-W10");
  const report = reported(
    recorded((recorder) => wholeWeek(recorder, period)),
    period,
  )!;
  expect(lookBackSchema.parse(report)).toEqual(report);
  expect(report.period).toEqual({
    kind: "week",
    name: "2026-W10",
    from: "2026-03-02",
    to: "2026-03-08",
    isOver: true,
    isWhole: true,
  });
  expect(report.days.map(({ date }) => date)).toEqual([
    ...["2026-03-02", "2026-03-03", "2026-03-04", "2026-03-05"],
    ...["2026-03-06", "2026-03-07", "2026-03-08"],
  ]);
  expect(report.days[3]).toMatchObject({
    coveredFraction: 1,
    potentialWh: 18_000,
    usedWh: 12_000,
    thrownAwayWh: 6_000,
    divertedWh: 2_000,
    everydayWh: 7_200,
    starts: 1,
    lowestSocFraction: 0.9,
    isUnderFloor: false,
    sunsetSocFraction: 0.95,
    isUnderSunsetTarget: false,
  });
  expect(report.totals).toMatchObject({
    coveredFraction: 1,
    potentialWh: 126_000,
    usedWh: 84_000,
    thrownAwayWh: 42_000,
    divertedWh: 14_000,
    starts: 7,
    sunsetMisses: 0,
    daysWithoutPotential: 0,
    loads: { "water-heater": { energyWh: 14_000, starts: 7 } },
  });
  // None used a greater share than another.
  expect([report.best, report.worst]).toEqual([null, null]);
  expect(report.gaps).toEqual([]);
  expect(report.alerts).toEqual([]);
  expect(report.summary).toBe(
    "The sources could have given 126.0 kWh: 84.0 kWh were used (66.6 %), 42.0 kWh thrown away. " +
      "The opportunity loads took 14.0 kWh in 7 starts, most of it water-heater (14.0 kWh). " +
      "The battery was at 90 % at the lowest on Mon 2026-03-02, not under its floor of 60 %. " +
      "It reached its target of 92 % at every sunset. " +
      "Loads drew nothing worth telling from the reserve. No alarm was raised.",
  );
});

test("why a load was off is counted in minutes; what cost power comes first", () => {
  const period = week("2026-W10");
  const path = recorded((recorder) => {
    const { fromMs } = stretchOf(period.fromDay);
    recorder.minutes(fromMs, fromMs + 24 * HOUR_MS, usualMinute);
    // Since before the week, and over its beginning.
    recorder.decided(fromMs - HOUR_MS, "spring-pump", "waiting-night", 0, [0, 750]);
    recorder.decided(fromMs + 9 * HOUR_MS, "spring-pump", "waiting-power", 0, [400, 750]);
    recorder.decided(fromMs + 11 * HOUR_MS, "spring-pump", "waiting-rest", 0);
    recorder.decided(fromMs + 13 * HOUR_MS, "spring-pump", "running-min-run", 1);
  });
  const { held } = reported(path, period)!;
  expect(held).toEqual([
    {
      load: "spring-pump",
      code: "waiting-rest",
      sentence: null,
      minutes: 120,
      heldBackMinutes: 120,
    },
    {
      load: "spring-pump",
      code: "waiting-power",
      sentence: "waits: 400 W to spare, it needs 750 W",
      minutes: 120,
      heldBackMinutes: 60,
    },
    {
      load: "spring-pump",
      code: "waiting-night",
      sentence: "waits: by night it needs 750 W to spare; there is 0 W",
      minutes: 540,
      heldBackMinutes: 0,
    },
  ]);
});

test.each([
  ["2026-W13", "2026-03-29", 23],
  ["2026-W43", "2026-10-25", 25],
])("%s has a day of another length, and is whole all the same", (name, date, hours) => {
  const period = week(name);
  const path = recorded((recorder) => wholeWeek(recorder, period));
  const report = reported(path, period)!;
  expect(report.period).toMatchObject({ to: date, isWhole: true });
  expect(report.days).toHaveLength(7);
  expect(report.days.map(({ coveredFraction }) => coveredFraction)).toEqual(Array(7).fill(1));
  expect(report.days.at(-1)).toMatchObject({ date, everydayWh: 300 * hours, usedWh: 12_000 });
  expect(report.gaps).toEqual([]);
  const { fromMs, toMs } = stretchOf(localDayOf(date)!);
  expect((toMs - fromMs) / HOUR_MS).toBe(hours);
});

test("an incomplete week says so, and when nothing was recorded", () => {
  const period = week("2026-W10");
  const wednesday = stretchOf(period.fromDay + 2);
  const path = recorded((recorder) => {
    const { fromMs } = stretchOf(period.fromDay + 1);
    const silentFromMs = wednesday.fromMs + 8 * HOUR_MS;
    recorder.minutes(fromMs, wednesday.toMs, (atMs) => {
      const isSilent = atMs >= silentFromMs && atMs < silentFromMs + 90 * MINUTE_MS;
      // Two minutes that are missing are no gap worth telling.
      const isHiccup = atMs >= fromMs + HOUR_MS && atMs < fromMs + HOUR_MS + 2 * MINUTE_MS;
      return isSilent || isHiccup ? null : usualMinute(atMs);
    });
  });
  const nowMs = wednesday.toMs + 3 * HOUR_MS;
  const report = reported(path, period, { nowMs })!;
  expect(report.period).toMatchObject({ isOver: false, isWhole: false });
  expect(report.days.map(({ date, isOver }) => [date, isOver])).toEqual([
    ["2026-03-03", true],
    ["2026-03-04", true],
  ]);
  expect(report.gaps).toEqual([
    { from: "2026-03-01T23:00:00.000Z", to: "2026-03-02T23:00:00.000Z", minutes: 1_440 },
    { from: "2026-03-04T07:00:00.000Z", to: "2026-03-04T08:30:00.000Z", minutes: 90 },
    { from: "2026-03-04T23:00:00.000Z", to: "2026-03-05T02:00:00.000Z", minutes: 180 },
  ]);
  const recordedMin = 2 * 1_440 - 92;
  expect(report.totals.coveredFraction).toBeCloseTo(recordedMin / (7 * 1_440), 4);
  expect(report.summary).toMatch(
    /^This week is not over yet\. Only 27\.6 % of it was recorded, 28 h 30 min so far are missing/u,
  );
  // One that is over, but was not recorded to its end.
  const later = reported(path, period)!;
  expect(later.period).toMatchObject({ isOver: true, isWhole: false });
  expect(later.summary).toMatch(/^Only 27\.6 % of it was recorded/u);
});

test("misses of floor and target, reserve and alarms are told, and the best and worst day", () => {
  const period = week("2026-W10");
  const path = recorded((recorder) => {
    for (let day = period.fromDay; day < period.fromDay + 3; day += 1) {
      const { fromMs, toMs } = stretchOf(day);
      const number = day - period.fromDay;
      recorder.minutes(fromMs, toMs, (atMs) => {
        const minute = usualMinute(atMs);
        const isNight = minute["decision.isDaylight"] === 0;
        if (number === 0) return minute;
        if (number === 2) return { ...minute, "decision.potentialW": null };
        return {
          ...minute,
          "decision.potentialW": (minute["decision.sourcesPowerW"] ?? 0) + 100,
          "decision.socFraction": isNight ? 0.5999 : 0.9199,
          "decision.bandFraction": -0.02,
        };
      });
    }
    const { fromMs } = stretchOf(period.fromDay);
    const alarm = (
      hour: number,
      about: "site" | "load",
      owner: string,
      code: string,
      change: string,
    ): void => {
      recorder.event({ atMs: fromMs + hour * HOUR_MS, about, owner, code, change });
    };
    alarm(3, "site", "site", "generator-only-note", "raised");
    alarm(4, "load", "water-heater", "late-battery", "raised");
    alarm(5, "load", "water-heater", "late-battery", "cleared");
    alarm(6, "load", "water-heater", "late-battery", "raised");
    alarm(7, "load", "spring-pump", "waiting-band", "raised");
  });
  const report = reported(path, period)!;
  expect(report.days[1]).toMatchObject({
    isUnderFloor: true,
    isUnderSunsetTarget: true,
    // The heater ran while the battery was being charged.
    reserveDrawnWh: 0,
  });
  expect(report.totals).toMatchObject({ sunsetMisses: 1, daysWithoutPotential: 1 });
  // 18 + 12.6 kWh; of the third day it is not known.
  expect(report.totals.potentialWh).toBe(30_600);
  expect(report.totals.thrownAwayWh).toBe(6_600);
  expect([report.best, report.worst]).toEqual(["2026-03-03", "2026-03-02"]);
  expect(report.alerts).toEqual([
    {
      about: "load",
      id: "water-heater",
      code: "late-battery",
      count: 2,
      firstAt: new Date(stretchOf(period.fromDay).fromMs + 4 * HOUR_MS).toISOString(),
    },
  ]);
  expect(report.summary).toContain("This leaves out 1 of 3 days, of which that is not known.");
  expect(report.summary).toContain("59.9 % at the lowest on Tue 2026-03-03, under its floor");
  expect(report.summary).toContain("At 1 of 3 sunsets it was under 92 %.");
  expect(report.summary).toContain("2 alarms were raised.");
  const text = lookBackText(report, site);
  expect(text).toContain("\nBest day: Tue 2026-03-03, worst: Mon 2026-03-02 (by the share");
  expect(text.split("\n").filter((line) => line.length > 80)).toEqual([]);
  expect(text).toContain("<: under the floor, or under the target at sunset");
  expect(text).toMatch(/^Tue 2026-03-03 +12\.6 +12\.0 +0\.6 +2\.0 +<59\.9 % +<91\.9 % +0\.0 +0$/mu);
  expect(text).toMatch(/^Wed 2026-03-04 +- +12\.0 +- +2\.0/mu);
  expect(text).toMatch(/^water-heater, late battery: 2 times, first 2026-03-02 04:00$/mu);
});

test("as text it keeps to 80 columns", () => {
  const period = week("2026-W10");
  const text = lookBackText(
    reported(
      recorded((r) => wholeWeek(r, period)),
      period,
    )!,
    site,
  );
  expect(text.split("\n").filter((line) => line.length > 80)).toEqual([]);
  expect(text).toContain("Malga: week 2026-W10, 2026-03-02 to 2026-03-08");
  expect(text).toMatch(/^all +126\.0 +84\.0 +42\.0 +14\.0 +90 % +0\.0 +7$/mu);
  expect(text).toMatch(/^water-heater, waiting band: \d+ h/mu);
});

test("one day is told alone, and a stretch without a record not at all", () => {
  const period = week("2026-W10");
  const path = recorded((recorder) => wholeWeek(recorder, period));
  const day = { kind: "day", name: "2026-03-05", fromDay: period.fromDay + 3 } as const;
  const report = reported(path, { ...day, toDay: day.fromDay })!;
  expect(report.totals.divertedWh).toBe(2_000);
  expect([report.best, report.worst]).toEqual([null, null]);
  expect(report.summary).toContain("at the lowest, not under");
  expect(reported(path, week("2026-W11"))).toBeNull();
});
