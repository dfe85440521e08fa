/** A forecast: which day it speaks of, what its past makes it count for, and what it is worth. */
import { readFileSync } from "node:fs";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Reading } from "../../../service/control/observation.ts";
import {
  FORECAST_MAX,
  forecastFraction,
  forecastSkill,
} from "../../../service/control/outlook/forecast.ts";
import { restOf, restOfDay, skillAtSite } from "../../../service/control/outlook/rest-of-day.ts";
import { NO_SKY, PARTS } from "../../../service/control/outlook/sky-record.ts";
import type { SkyDay } from "../../../service/control/outlook/sky-record.ts";

const MIDNIGHT_MS = 1_750_000_000_000;
const HOUR_MS = 3_600_000;
const even = new Array<number>(PARTS).fill(1000);
const day = (partWh: readonly number[]) => ({ sunriseMs: 0, sunsetMs: 1, powerW: [], partWh });
const clearDays = {
  localDay: 20_000,
  midnightMs: MIDNIGHT_MS,
  today: day(even),
  tomorrow: day(even.map((wh) => 2 * wh)),
};

function said(value: number, hour: number, now: number, quality: Reading["quality"] = "fresh") {
  return { value, quality, ageMs: (now - hour) * HOUR_MS };
}

const between = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const nothing: Reading = { value: 0, quality: "unmapped", ageMs: 0 };

describe("a forecast", () => {
  const at = (todayWh: Reading, tomorrowWh: Reading, which: "today" | "tomorrow") =>
    forecastFraction(
      { forecast: { todayWh, tomorrowWh }, wallMs: MIDNIGHT_MS + 10 * HOUR_MS },
      clearDays,
      which,
    );

  it("counts for the local day on which it arrived, to the millisecond", () => {
    expect(at(said(9000, 6, 10), nothing, "today")).toBe(0.75);
    expect(at({ value: 9000, quality: "fresh", ageMs: 10 * HOUR_MS }, nothing, "today")).toBe(0.75);
    const before = { value: 9000, quality: "fresh", ageMs: 10 * HOUR_MS + 1 } as const;
    expect(at(before, nothing, "today")).toBeNull();
    expect(at(said(9000, 6, 10), nothing, "tomorrow")).toBeNull();
  });

  it("for tomorrow is one for today from midnight on, unless there is a newer one", () => {
    const yesterday = said(6000, -3, 10);
    expect(at(nothing, yesterday, "today")).toBe(0.5);
    expect(at(nothing, yesterday, "tomorrow")).toBeNull();
    expect(at(said(9000, 6, 10), yesterday, "today")).toBe(0.75);
    expect(at(nothing, said(6000, 7, 10), "tomorrow")).toBe(0.25);
    expect(at(nothing, said(6000, 7, 10), "today")).toBeNull();
  });

  it.each(["stale", "retained", "implausible", "frozen", "waiting", "unmapped"] as const)(
    "that is %s counts for nothing",
    (quality) => {
      expect(at(said(9000, 6, 10, quality), nothing, "today")).toBeNull();
      expect(at(nothing, said(9000, 6, 10, quality), "tomorrow")).toBeNull();
      expect(at(nothing, said(9000, -6, 10, quality), "today")).toBeNull();
    },
  );

  it("of a day without sun says nothing, and none says more than three clear days", () => {
    const dark = { ...clearDays, today: day(even.map(() => 0)) };
    const observed = { forecast: { todayWh: said(9000, 6, 10), tomorrowWh: nothing } };
    const wallMs = MIDNIGHT_MS + 10 * HOUR_MS;
    expect(forecastFraction({ ...observed, wallMs }, dark, "today")).toBeNull();
    expect(at(said(1e9, 6, 10), nothing, "today")).toBe(FORECAST_MAX);
  });
});

function recordOf(pairs: readonly (readonly [number | null, number])[]): readonly SkyDay[] {
  return pairs.map(([forecast, came], localDay) => ({
    localDay,
    clearness: even.map(() => came),
    forecast,
  }));
}

describe("its skill", () => {
  const pairs = [
    [0.2, 0.3],
    [0.9, 0.8],
    [0.5, 0.6],
    [0.4, 0.3],
    [0.8, 0.9],
    [0.7, 0.5],
    [0.3, 0.4],
    [0.6, 0.7],
    [1.0, 0.9],
    [0.1, 0.2],
    [0.5, 0.4],
    [0.6, 0.6],
  ] as const;

  it("is the adjusted R² of the two, by hand", () => {
    const n = pairs.length;
    const mean = (index: 0 | 1) => pairs.reduce((sum, pair) => sum + pair[index], 0) / n;
    const moment = (a: 0 | 1, b: 0 | 1) =>
      pairs.reduce((sum, pair) => sum + (pair[a] - mean(a)) * (pair[b] - mean(b)), 0);
    const r2 = moment(0, 1) ** 2 / (moment(0, 0) * moment(1, 1));
    const skill = skillAtSite(recordOf(pairs), even);
    expect(skill.days).toBe(12);
    expect(skill.explained).toBeCloseTo(1 - ((1 - r2) * (n - 1)) / (n - 2), 12);
    expect(skill.belief).toBe(1);
  });

  it("is not known of fewer than twelve days, and leaves out days without a forecast", () => {
    const few = recordOf([...pairs.slice(1), [null, 0.5], [null, 0.9]]);
    expect(skillAtSite(few, even)).toEqual({ days: 11, explained: null, belief: 0 });
    expect(forecastSkill(recordOf(pairs), () => null).days).toBe(0);
  });

  it("is none where it says the same each day, or the opposite of what comes", () => {
    const same = recordOf(pairs.map(([, came]) => [0.6, came]));
    expect(skillAtSite(same, even)).toEqual({ days: 12, explained: 0, belief: 0 });
    const opposite = recordOf(pairs.map(([says, came]) => [1 - says, came]));
    expect(skillAtSite(opposite, even).belief).toBe(0);
  });

  it("does not change if all of it is said in other units, or with a steady error", () => {
    fc.assert(
      fc.property(between(0.2, 5), between(-1, 1), (scale, off) => {
        const other = recordOf(pairs.map(([says, came]) => [scale * says + off, came]));
        const { explained } = skillAtSite(other, even);
        expect(explained).toBeCloseTo(skillAtSite(recordOf(pairs), even).explained!, 6);
      }),
    );
  });
});

it("counts days of which nobody spoke little beside days of which the same was said", () => {
  // Days that were forecast came as they were; those that were not came dull.
  const said = Array.from({ length: 30 }, (_, index) => [index / 30, index / 30] as const);
  const days = recordOf([...said, ...said.map(() => [null, 0.1] as const)]).slice(-60);
  const asked = { record: { ...NO_SKY, days }, today: null, localDay: 60, position: 0 };
  const { expected } = restOfDay({ ...asked, clearWh: even, forecast: 0.9, tailFraction: 0.2 });
  const without = restOfDay({ ...asked, clearWh: even, forecast: null, tailFraction: 0.2 });
  expect(without.expected).toBeLessThan(0.4);
  expect(expected).toBeGreaterThan(without.expected + 0.1);
  expect(expected).toBeLessThan(0.8);
});

/**
 * Days of a typical year: test/data/day-clearness/SOURCE.txt. The forecasts are made up: what came
 * and a random error, uniform to ± √3 times the stated one.
 */
const year: readonly (readonly number[])[] = readFileSync(
  "test/data/day-clearness/denver.csv",
  "utf8",
)
  .trim()
  .split("\n")
  .slice(1)
  .map((line) =>
    line
      .split(",")
      .slice(1)
      .map((cell) => (cell === "" ? -1 : Number(cell))),
  );

const wholeDay = (clearness: readonly number[]): number =>
  restOf({ localDay: 0, clearness, forecast: null }, { position: 0, clearWh: even })!;

function chance(seed: number): () => number {
  let state = seed;
  return () => {
    // Constants of Numerical Recipes' quick generator, from memory.
    state = (1_664_525 * state + 1_013_904_223) % 2 ** 32;
    return state / 2 ** 32;
  };
}

type Forecaster = (came: number, next: () => number) => number | null;

/** Mean loss of the cautious side as a 20 % quantile, before sunrise of 305 days. [1] */
function quantileLoss(forecaster: Forecaster, seed = 7): number {
  const next = chance(seed);
  const days = year.map((clearness, localDay) => {
    const forecast = forecaster(wholeDay(clearness), next);
    return { localDay, clearness, forecast };
  });
  let sum = 0;
  const tailFraction = 0.2;
  for (let index = 60; index < days.length; index += 1) {
    const { localDay, clearness, forecast } = days[index]!;
    const record = { ...NO_SKY, days: days.slice(index - 60, index) };
    const asked = { record, today: null, localDay, position: 0, clearWh: even, tailFraction };
    const { cautious } = restOfDay({ ...asked, forecast });
    const off = wholeDay(clearness) - cautious;
    sum += off >= 0 ? tailFraction * off : (tailFraction - 1) * off;
  }
  return sum / (days.length - 60);
}

const withError =
  (error: number): Forecaster =>
  (came, next) =>
    came + Math.sqrt(3) * error * (2 * next() - 1);

describe("what it is worth before sunrise, on the days of a typical year", () => {
  const without = quantileLoss(() => null);

  it("grows with how right it is", () => {
    const losses = [0.05, 0.1, 0.2].map((error) => quantileLoss(withError(error)) / without);
    expect(losses).toEqual([...losses].sort((a, b) => a - b));
    expect(losses[0]).toBeLessThan(0.5);
    expect(losses[2]).toBeLessThan(1);
  });

  it("is as much for one that halves every difference and is too high besides", () => {
    const shifted: Forecaster = (came, next) => 0.3 + 0.5 * withError(0.1)(came, next)!;
    expect(quantileLoss(shifted)).toBeLessThan(0.5 * without);
  });

  it("is next to nothing, for better or worse, where it knows nothing", () => {
    const noises = [1, 2, 3, 4, 5].map((seed) => quantileLoss((_, next) => next(), seed) / without);
    expect(Math.max(...noises)).toBeLessThan(1.02);
    expect(quantileLoss((came) => 1 - came)).toBe(without);
  });
});
