/**
 * Is the made-up broken cloud as hard on a controller as a real one? Compared is how much the
 * clear-sky index changes from one minute to the next, as quantiles over the hours with the sun
 * above 20°. Two measured days of other places and the measured clear day are the yardstick.
 */
import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { extraterrestrialWm2, meanDayOfYear } from "../../service/solar/extraterrestrial.ts";
import { sunPosition } from "../../service/solar/sun.ts";
import { readDayCsv } from "../../simulator/days/read-csv.ts";
import type { SkyKind } from "../../simulator/weather/cloud.ts";
import {
  ineichenSky,
  pressurePa,
  relativeAirmass,
  SEA_LEVEL_PA,
} from "../../simulator/weather/sky.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { simulatedSite } from "./simulated-site.ts";

const QUANTILES = [0.5, 0.75, 0.9, 0.95, 0.99];
/** A single day is a small sample: two measured broken days differ by this much between them. */
const FACTOR_MAX = 2.5;
const SEEDS = [1, 2, 3, 4, 5, 6, 7, 8];

interface Measured {
  readonly timesMs: Float64Array;
  readonly globalWm2: Float64Array;
  readonly latitudeDeg: number;
  readonly longitudeDeg: number;
  readonly elevationM: number;
}

const golden = measured("../../simulator/samples/measured-broken-cloud.csv", 1829);
const lamont = measured("../data/measured-minutes/lamont-2019-07-05.csv", 318);
const tucson = measured("../data/measured-minutes/tucson-2018-10-18.csv", 786);

test("made-up broken cloud ramps like two measured days, within a factor of 2.5", () => {
  const made = quantiles(SEEDS.flatMap((seed) => changes(madeUp(seed, "broken"))));
  let compared = 0;
  for (const day of [golden, lamont]) {
    const real = quantiles(changes(day));
    for (const [i, realValue] of real.entries()) {
      const ratio = (made[i] ?? NaN) / realValue;
      expect(ratio, `quantile ${QUANTILES[i]}`).toBeGreaterThan(1 / FACTOR_MAX);
      expect(ratio, `quantile ${QUANTILES[i]}`).toBeLessThan(FACTOR_MAX);
      compared += 1;
    }
  }
  expect(compared).toBe(10);
});

test("each seed's day alone has about as many steep minutes as a measured broken day", () => {
  for (const seed of SEEDS) {
    const steep = changes(madeUp(seed, "broken")).filter((change) => change > 0.1);
    const share = steep.length / changes(madeUp(seed, "broken")).length;
    // Measured: 18 % at Golden, 12 % at Lamont.
    expect(share).toBeGreaterThan(0.12 / 2);
    expect(share).toBeLessThan(0.18 * 2);
  }
});

test("negative control: clear days, made up or measured, fail the same comparison", () => {
  const real = quantiles(changes(golden));
  for (const clear of [tucson, madeUp(1, "clear")]) {
    const ratios = quantiles(changes(clear)).map((value, i) => value / (real[i] ?? NaN));
    for (const ratio of ratios) expect(ratio).toBeLessThan(1 / FACTOR_MAX);
  }
});

function changes(day: Measured): number[] {
  const found: number[] = [];
  let before: number | null = null;
  for (const [i, atMs] of day.timesMs.entries()) {
    const index = clearIndex(day, atMs + 30_000, day.globalWm2[i] ?? 0);
    if (index !== null && before !== null) found.push(Math.abs(index - before));
    before = index;
  }
  expect(found.length).toBeGreaterThan(300);
  return found;
}

function clearIndex(day: Measured, atMs: number, globalWm2: number): number | null {
  const zenithDeg = 90 - sunPosition(atMs, day.latitudeDeg, day.longitudeDeg).altitudeDeg;
  if (zenithDeg > 70) return null;
  const sky = ineichenSky({
    zenithDeg,
    absoluteAirmass: (relativeAirmass(zenithDeg) * pressurePa(day.elevationM)) / SEA_LEVEL_PA,
    linkeTurbidity: 3,
    elevationM: day.elevationM,
    extraterrestrialWm2: extraterrestrialWm2(meanDayOfYear(atMs)),
  });
  return globalWm2 / sky.globalWm2;
}

function quantiles(values: readonly number[]): number[] {
  const sorted = [...values].sort((a, b) => a - b);
  return QUANTILES.map((q) => sorted[Math.floor(q * sorted.length)] ?? NaN);
}

function measured(path: string, elevationM: number): Measured {
  const series = readDayCsv(readFileSync(new URL(path, import.meta.url), "utf8"), path);
  const { place, timesMs } = series;
  if (place === null) throw new Error(`${path} names no place`);
  return { ...place, elevationM, timesMs, globalWm2: series.columns.get("ghi_w_m2")! };
}

function madeUp(seed: number, kind: SkyKind): Measured {
  const site = simulatedSite();
  const series = syntheticDay({ site, localDate: "2025-06-12", seed, kind });
  const { latitudeDeg, longitudeDeg, elevationM } = site.control;
  const globalWm2 = series.columns.get("ghi_w_m2")!;
  return { latitudeDeg, longitudeDeg, elevationM, timesMs: series.timesMs, globalWm2 };
}
