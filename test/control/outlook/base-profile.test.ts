import { describe, expect, it } from "vitest";
import {
  baseSpreadW,
  expectedBaseW,
  isBaseKnown,
  learnHour,
  learnHourBetween,
  NO_BASE,
} from "../../../service/control/outlook/base-profile.ts";
import type { BaseProfile } from "../../../service/control/outlook/base-profile.ts";

/** Days of 24 hours, each with what `useW` says. */
function learned(days: number, useW: (day: number, hour: number) => number): BaseProfile {
  let profile = NO_BASE;
  for (let day = 0; day < days; day += 1) {
    for (let hour = 0; hour < 24; hour += 1) {
      profile = learnHour(profile, { localDay: day, hour }, useW(day, hour));
    }
  }
  return profile;
}

describe("everyday use", () => {
  it("is known after each hour was seen twice", () => {
    expect(isBaseKnown(learned(1, () => 200))).toBe(false);
    expect(isBaseKnown(learned(2, () => 200))).toBe(true);
  });

  it("follows the hours of the day", () => {
    const profile = learned(10, (_, hour) => (hour === 7 ? 900 : 250));
    expect(expectedBaseW(profile, { localDay: 10, hour: 7 })).toBeCloseTo(900, 6);
    expect(expectedBaseW(profile, { localDay: 10, hour: 8 })).toBeCloseTo(250, 6);
    expect(baseSpreadW(profile, 7)).toBeCloseTo(0, 6);
  });

  it("does not take one loud evening for a habit", () => {
    const quiet = learned(20, () => 300);
    const after = learnHour(quiet, { localDay: 20, hour: 19 }, 5000);
    expect(expectedBaseW(after, { localDay: 22, hour: 19 })).toBeLessThan(310);
  });

  it("takes up a new freezer within two weeks", () => {
    const profile = learned(40, (day) => (day < 26 ? 300 : 420));
    expect(expectedBaseW(profile, { localDay: 41, hour: 3 })).toBeGreaterThan(390);
  });

  it("tells weekdays apart once it has seen some weeks of them", () => {
    const onMonday = (day: number) => (day % 7 === 4 ? 1000 : 300);
    const profile = learned(56, onMonday);
    const monday = expectedBaseW(profile, { localDay: 60, hour: 10 });
    const tuesday = expectedBaseW(profile, { localDay: 61, hour: 10 });
    expect(monday).toBeGreaterThan(tuesday + 80);
    // Before 1970 as after it.
    expect(expectedBaseW(profile, { localDay: 60 - 70, hour: 10 })).toBe(monday);
  });

  it("is never negative nor beyond reason, whatever a meter says", () => {
    const profile = learned(3, (day) => (day === 0 ? 1e12 : -1e12));
    const usedW = expectedBaseW(profile, { localDay: 3, hour: 0 });
    expect(usedW).toBeGreaterThanOrEqual(0);
    expect(usedW).toBeLessThanOrEqual(1e6);
  });
});

describe("an hour of which only bounds are known", () => {
  const at = { localDay: 20, hour: 9 };
  const between = (profile: BaseProfile, leastW: number, mostW: number) =>
    learnHourBetween(profile, at, { leastW, mostW });

  it("leaves a mean that may be right as it is", () => {
    const quiet = learned(20, () => 300);
    for (const [leastW, mostW] of [
      [300, 800],
      [0, 300],
      [299, 301],
    ] as const) {
      expect(between(quiet, leastW, mostW)).toBe(quiet);
    }
  });

  it("moves a mean that cannot be right towards the nearer bound", () => {
    const quiet = learned(20, () => 300);
    const after = between(quiet, 400, 900);
    expect(after.meanW).toEqual(learnHour(quiet, at, 400).meanW);
    expect(baseSpreadW(after, 9)).toBeCloseTo(10, 9);
    expect(expectedBaseW(between(quiet, 0, 250), at)).toBeLessThan(300);
    expect(expectedBaseW(between(quiet, 301, 900), at)).toBeGreaterThan(300);
  });

  it("that was never seen is taken for near the least, with a doubt of its own", () => {
    const once = between(NO_BASE, 200, 1200);
    expect(expectedBaseW(once, at)).toBe(400);
    expect(baseSpreadW(once, 9)).toBe(200);
    const twice = between(once, 500, 700);
    expect(twice.meanW[9]).toBe(450);
    expect(baseSpreadW(twice, 9)).toBe(150);
    // What is known then soon outweighs it.
    let known = twice;
    for (let day = 0; day < 10; day += 1) known = learnHour(known, at, 200);
    expect(expectedBaseW(known, at)).toBeLessThan(320);
  });
});
