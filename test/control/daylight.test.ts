import { describe, expect, it } from "vitest";
import { isSunUp, mayLendNow, sunOfToday } from "../../service/control/daylight.ts";
import type { SunMemory } from "../../service/control/memory.ts";
import { HOUR_MS, MINUTE_MS, observe, site } from "./given.ts";

const RISE_MS = 6 * HOUR_MS;
const SET_MS = 18 * HOUR_MS;
const day: SunMemory = { localDay: 0, sunriseMs: RISE_MS, sunsetMs: SET_MS, isUpAtNoon: true };
const alwaysUp: SunMemory = { ...day, sunriseMs: null, sunsetMs: null };
const neverUp: SunMemory = { ...alwaysUp, isUpAtNoon: false };

describe("the sun", () => {
  it.each([
    ["a moment before sunrise", day, RISE_MS - 1, false],
    ["at sunrise", day, RISE_MS, true],
    ["a moment before sunset", day, SET_MS - 1, true],
    ["at sunset", day, SET_MS, false],
    ["on a day without sunset, at midnight", alwaysUp, 0, true],
    ["on a day without sunrise, at noon", neverUp, 12 * HOUR_MS, false],
    ["with the clock in doubt", null, 12 * HOUR_MS, null],
  ])("%s", (_name, sun, wallMs, isUp) => {
    expect(isSunUp(sun, wallMs)).toBe(isUp);
  });
});

describe("what the band lends is given back by the same day's sun", () => {
  it.each([
    ["before sunrise", day, RISE_MS - 1, false],
    ["at sunrise", day, RISE_MS, true],
    ["just over two hours before sunset", day, SET_MS - 2 * HOUR_MS - 1, true],
    ["two hours before sunset", day, SET_MS - 2 * HOUR_MS, false],
    ["on a day without sunset", alwaysUp, 23 * HOUR_MS, true],
    ["on a day without sunrise", neverUp, 12 * HOUR_MS, false],
    ["with the clock in doubt", null, 12 * HOUR_MS, null],
  ])("%s", (_name, sun, wallMs, mayLend) => {
    expect(mayLendNow(sun, wallMs)).toBe(mayLend);
  });
});

describe("the sun's times", () => {
  const settings = site();
  const noon = observe(settings, 0);

  it("are worked out once a day", () => {
    const first = sunOfToday(null, noon, settings);
    expect(first?.localDay).toBe(noon.localDay);
    expect(sunOfToday(first, observe(settings, MINUTE_MS), settings)).toBe(first);
    const tomorrow = sunOfToday(first, observe(settings, 24 * HOUR_MS), settings);
    expect(tomorrow?.localDay).toBe(noon.localDay + 1);
  });

  it("are of the local day whatever the hour at which they are asked for", () => {
    const early = sunOfToday(null, observe(settings, -12 * HOUR_MS), settings);
    const late = sunOfToday(null, observe(settings, 12 * HOUR_MS - MINUTE_MS), settings);
    expect(early).toEqual(sunOfToday(null, noon, settings));
    expect(late).toEqual(early);
  });

  it("are forgotten while the clock is in doubt", () => {
    const first = sunOfToday(null, noon, settings);
    const inDoubt = { ...noon, isWallClockPlausible: false };
    expect(sunOfToday(first, inDoubt, settings)).toBeNull();
  });
});
