import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { readDayCsv } from "../../simulator/days/read-csv.ts";
import { dayFeed } from "../../simulator/feed.ts";
import { keepFeeds } from "../../simulator/kept-feeds.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import { simulatedSite } from "./simulated-site.ts";

const plant = plantSettings(simulatedSite());
const OPTIONS = { plant, sitePlace: { latitudeDeg: 44.2, longitudeDeg: 6.9 }, mayBridge: false };
const SAMPLE = new URL("../../simulator/samples/measured-broken-cloud.csv", import.meta.url);

function sample(without: readonly string[] = []): DaySeries {
  const series = readDayCsv(readFileSync(SAMPLE, "utf8"), "sample");
  const columns = new Map([...series.columns].filter(([name]) => !without.includes(name)));
  return { ...series, columns };
}

function energyWh(values: Float64Array | undefined): number {
  return (values ?? new Float64Array()).reduce((sum, powerW) => sum + powerW / 60, 0);
}

test("the measured day's light becomes a plausible day of the 6.6 kW array", () => {
  const feed = dayFeed(sample(), OPTIONS);
  const [power] = feed.arrayPotentialW;
  // 6.64 kWh/m² on the horizontal; the tilted plane gets a little more, heat and glass take some.
  expect(energyWh(power) / 6600).toBeGreaterThan(5);
  expect(energyWh(power) / 6600).toBeLessThan(7);
  expect(Math.max(...(power ?? []))).toBeLessThan(1.45 * 6600);
  expect(power?.every((powerW) => powerW >= 0)).toBe(true);
  expect(power?.[0]).toBe(0);
  expect(feed.place).toEqual({ latitudeDeg: 39.742, longitudeDeg: -105.179 });
});

test("global light alone gives the day's energy within a tenth of the measured split", () => {
  const full = energyWh(dayFeed(sample(), OPTIONS).arrayPotentialW[0]);
  const alone = sample(["dni_w_m2", "dhi_w_m2"]);
  const split = energyWh(dayFeed(alone, OPTIONS).arrayPotentialW[0]);
  expect(Math.abs(split / full - 1)).toBeLessThan(0.1);
  expect(split).not.toBe(full);
});

test("a recorded potential is taken as it is and shared by peak power", () => {
  const text = "time,pv_potential_w,base_load_w\n2025-06-12T10:00:00Z,3000,200";
  const [array] = plant.arrays;
  if (array === undefined) throw new Error("the test site has one array");
  const two = { ...plant, arrays: [array, { ...array, id: "barn", peakW: 2200 }] };
  const feed = dayFeed(readDayCsv(text, "d"), { ...OPTIONS, plant: two });
  expect(feed.arrayPotentialW.map((values) => values[0])).toEqual([2250, 750]);
  expect(feed.baseAcW[0]).toBe(200);
  expect(feed.place).toEqual(OPTIONS.sitePlace);
});

test("empty fields take the value before them, the first ones that after them", () => {
  const rows = ["10:00:00Z,,1", "10:01:00Z,500,", "10:02:00Z,,3"];
  const text = `time,pv_potential_w,base_load_w\n${rows.map((r) => `2025-06-12T${r}`).join("\n")}`;
  const feed = dayFeed(readDayCsv(text, "d"), OPTIONS);
  expect([...(feed.arrayPotentialW[0] ?? [])]).toEqual([500, 500, 500]);
  expect([...feed.baseAcW]).toEqual([1, 1, 3]);
});

test("a kept feed is the same object only for the same day in the same light", () => {
  const feedOf = keepFeeds();
  const day = sample();
  const first = feedOf(day, OPTIONS);
  expect(first).toEqual(dayFeed(day, OPTIONS));
  const withoutLoads = { ...plant, loads: [] };
  expect(feedOf(day, { ...OPTIONS, plant: withoutLoads })).toBe(first);
  const hazy = { ...plant, obstruction: { hazeFraction: 0.3, horizon: [] } };
  for (const changed of [
    { ...OPTIONS, plant: hazy },
    { ...OPTIONS, plant: { ...plant, arrays: [] } },
    { ...OPTIONS, plant: { ...plant, irradianceSensor: { tiltDeg: 9, azimuthDeg: 90 } } },
    { ...OPTIONS, plant: { ...plant, charger: { ...plant.charger, efficiencyFraction: 0.5 } } },
    { ...OPTIONS, sitePlace: { latitudeDeg: -42, longitudeDeg: 147 } },
    { ...OPTIONS, mayBridge: true },
  ]) {
    const feed = feedOf(day, changed);
    expect(feed).not.toBe(first);
    expect(feed).toEqual(dayFeed(day, changed));
  }
  const again = feedOf(day, OPTIONS);
  expect(again).toEqual(first);
  expect(feedOf(sample(), OPTIONS)).not.toBe(again);
});

test("the light on a sensor: as recorded where it lies flat, more of a low sun where it is tilted", () => {
  const on = (tiltDeg: number) => {
    const irradianceSensor = { tiltDeg, azimuthDeg: 180 };
    return dayFeed(sample(), { ...OPTIONS, plant: { ...plant, irradianceSensor } });
  };
  const global = sample().columns.get("ghi_w_m2") ?? new Float64Array();
  const flat = on(0).irradianceWm2 ?? new Float64Array();
  // The three instruments of the record do not agree to the last per cent.
  expect(Math.abs(energyWh(flat) / energyWh(global) - 1)).toBeLessThan(0.03);
  expect(on(40).irradianceWm2).not.toEqual(flat);
  expect(dayFeed(sample(), OPTIONS).irradianceWm2).toBeNull();
  const potential = new Map([["pv_potential_w", global]]);
  const dark = { ...sample(), columns: new Map([...potential, ["base_load_w", global] as const]) };
  const irradianceSensor = { tiltDeg: 0, azimuthDeg: 180 };
  const options = { ...OPTIONS, plant: { ...plant, irradianceSensor } };
  expect(dayFeed(dark, options).irradianceWm2).toBeNull();
});
