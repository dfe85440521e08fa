/** What goes by the day and the hour when the wall clock leaps, or the zone changes its clocks. */
import { describe, expect, it, test } from "vitest";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { LocalCalendar } from "../../config/local-calendar.ts";
import { HOUR_MS, lfpBattery, load, MINUTE_MS, Run, site } from "./given.ts";
import type { Scene } from "./given.ts";

const DAY_MS = 24 * HOUR_MS;
const YEAR_MS = 365 * DAY_MS;
const rome = createLocalCalendar("Europe/Rome");
/** Noon in Rome. */
const NOON_MS = Date.UTC(2026, 5, 21, 10);

/** A wall clock that somebody turns, beside a run whose own time goes on. */
class Turned {
  readonly run: Run;
  readonly calendar: LocalCalendar;
  wallAtStartMs: number;
  isPlausible = true;

  constructor(run: Run, wallAtStartMs: number, calendar = rome) {
    this.run = run;
    this.wallAtStartMs = wallAtStartMs;
    this.calendar = calendar;
  }

  leap(byMs: number): void {
    this.wallAtStartMs += byMs;
  }

  scene(): Scene {
    const wallMs = this.wallAtStartMs + this.run.atMs;
    const { localDay, localMinute } = this.calendar(wallMs);
    const { isPlausible } = this;
    return { over: { wallMs, localDay, localMinute, isWallClockPlausible: isPlausible } };
  }

  pass(durationMs: number): void {
    this.run.during(durationMs, () => this.scene());
  }

  get code() {
    return this.run.decision?.verdicts[0]?.code;
  }
}

describe("a quota of minutes a day", () => {
  const settings = site({ loads: [load({ stagesW: [500], quotaRunMs: 30 * MINUTE_MS })] });

  function used(): Turned {
    const turned = new Turned(new Run(settings), NOON_MS);
    turned.pass(HOUR_MS);
    expect(turned.run.stages).toEqual([0]);
    expect(turned.code).toBe("quota-run-met");
    return turned;
  }

  test.each<[string, number, boolean]>([
    ["an hour on", HOUR_MS, false],
    ["an hour back", -HOUR_MS, false],
    ["a day on: another day", DAY_MS, true],
    ["a day back: that day was over", -DAY_MS, false],
    ["a year on", YEAR_MS, true],
    ["a year back: the day before was no day of ours", -YEAR_MS, true],
  ])("%s", (_what, leapMs, isRenewed) => {
    const turned = used();
    turned.leap(leapMs);
    turned.pass(20 * MINUTE_MS);
    expect(turned.run.stages).toEqual([isRenewed ? 1 : 0]);
  });

  it("is not renewed by 1970 at boot, but by the right day that follows", () => {
    const turned = used();
    turned.isPlausible = false;
    turned.leap(-NOON_MS);
    turned.pass(DAY_MS);
    expect(turned.run.stages).toEqual([0]);
    turned.isPlausible = true;
    turned.leap(NOON_MS);
    turned.pass(20 * MINUTE_MS);
    expect(turned.run.stages).toEqual([1]);
  });

  it("counts once for a night whose clock is put back over midnight", () => {
    const turned = new Turned(new Run(settings), NOON_MS + 12 * HOUR_MS - 20 * MINUTE_MS);
    turned.pass(40 * MINUTE_MS);
    const day = turned.run.memory.loads[0]?.day;
    turned.leap(-HOUR_MS);
    turned.pass(2 * HOUR_MS);
    expect(turned.run.memory.loads[0]?.day).toBe(day);
  });
});

describe("the hours of a load", () => {
  const hours = [{ fromMinute: 10 * 60, toMinute: 14 * 60 }];
  const settings = site({ loads: [load({ stagesW: [500], windows: hours, minRunMs: 0 })] });

  test.each<[string, number, boolean]>([
    ["an hour on", HOUR_MS, true],
    ["two hours on: they are over", 2 * HOUR_MS + MINUTE_MS, false],
    ["an hour back", -HOUR_MS, true],
    ["three hours back: they have not begun", -3 * HOUR_MS, false],
    ["a day on", DAY_MS, true],
    ["a year back", -YEAR_MS, true],
  ])("%s", (_what, leapMs, isOpen) => {
    const turned = new Turned(new Run(settings), NOON_MS);
    turned.pass(20 * MINUTE_MS);
    expect(turned.run.stages).toEqual([1]);
    turned.leap(leapMs);
    turned.pass(10 * MINUTE_MS);
    expect(turned.code === "outside-window").toBe(!isOpen);
    expect(turned.run.stages).toEqual([isOpen ? 1 : 0]);
  });

  it("do not come while nobody knows the time", () => {
    const turned = new Turned(new Run(settings), NOON_MS);
    turned.pass(20 * MINUTE_MS);
    turned.isPlausible = false;
    turned.pass(DAY_MS);
    expect(turned.run.stages).toEqual([0]);
    turned.isPlausible = true;
    turned.pass(20 * MINUTE_MS);
    expect(turned.run.stages).toEqual([1]);
  });

  const night = [{ fromMinute: 90, toMinute: 210 }];
  test.each<[string, string, number, number]>([
    ["an ordinary night", "Europe/Rome", Date.UTC(2026, 5, 21), 120],
    ["Rome in spring", "Europe/Rome", Date.UTC(2026, 2, 29), 60],
    ["Rome in autumn", "Europe/Rome", Date.UTC(2026, 9, 25), 180],
    ["Hobart in its spring", "Australia/Hobart", Date.UTC(2026, 9, 4), 60],
    ["Hobart in its autumn", "Australia/Hobart", Date.UTC(2026, 3, 5), 180],
  ])("from 01:30 to 03:30: %s", (_what, timeZone, day, minutes) => {
    const run = new Run(site({ loads: [load({ windows: night })] }));
    const calendar = createLocalCalendar(timeZone);
    // From a day before in Greenwich: the night of that local date lies within the two days.
    const turned = new Turned(run, day - DAY_MS, calendar);
    const localDay = day / DAY_MS;
    let openMs = 0;
    for (let minute = 0; minute < 2 * 1440; minute += 1) {
      const seen = calendar(turned.wallAtStartMs + run.atMs);
      run.during(MINUTE_MS, () => turned.scene());
      if (seen.localDay === localDay && turned.code !== "outside-window") openMs += MINUTE_MS;
    }
    expect(Math.abs(openMs / MINUTE_MS - minutes)).toBeLessThanOrEqual(1);
  });
});

describe("the days since the last full charge", () => {
  const settings = site({ battery: lfpBattery({ fullChargeEveryDays: 10 }) });

  test.each<[string, number, boolean]>([
    ["an hour on", HOUR_MS, false],
    ["a day back", -DAY_MS, false],
    ["a day on", DAY_MS, false],
    ["eleven days on", 11 * DAY_MS, true],
    ["a year on", YEAR_MS, true],
    ["a year back", -YEAR_MS, false],
  ])("%s", (_what, leapMs, isDue) => {
    const turned = new Turned(new Run(settings), NOON_MS);
    turned.pass(MINUTE_MS);
    turned.leap(leapMs);
    turned.pass(MINUTE_MS);
    expect(turned.run.decision?.site.isFullChargeDue).toBe(isDue);
  });

  it("are not put off by a clock that was a year ahead for a while", () => {
    const turned = new Turned(new Run(settings), NOON_MS + YEAR_MS);
    turned.pass(MINUTE_MS);
    turned.leap(-YEAR_MS);
    turned.pass(MINUTE_MS);
    turned.leap(11 * DAY_MS);
    turned.pass(MINUTE_MS);
    expect(turned.run.decision?.site.isFullChargeDue).toBe(true);
  });

  it("stand still while the clock is in doubt", () => {
    const turned = new Turned(new Run(settings), NOON_MS);
    turned.pass(MINUTE_MS);
    turned.isPlausible = false;
    turned.leap(YEAR_MS);
    turned.pass(MINUTE_MS);
    expect(turned.run.decision?.site.isFullChargeDue).toBe(false);
  });
});
