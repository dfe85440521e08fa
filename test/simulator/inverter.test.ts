import { expect, test } from "vitest";
import {
  createInverter,
  inverterDcW,
  turnOff,
  watchOverload,
  watchRestart,
} from "../../simulator/plant/inverter.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import { simulatedSite } from "./simulated-site.ts";

const SETTINGS = plantSettings(simulatedSite()).inverter;

/** By hand: 8 kW, 35 W idle, 92 %: loss per W at half load 1/0.92 − 1 = 0.086957. */
test("hand-worked points: idle, half load, full load", () => {
  expect(inverterDcW(0, SETTINGS)).toBe(35);
  // Half load has the settings' own efficiency: 4000 / 0.92 = 4347.83, and the idle use.
  expect(inverterDcW(4000, SETTINGS)).toBeCloseTo(4347.826 + 35, 2);
  // Full load: 0.6·0.086957 + 0.8·0.086957 = 0.121739 per W.
  expect(inverterDcW(8000, SETTINGS)).toBeCloseTo(8000 * 1.1217391 + 35, 2);
});

test("DC power rises with AC power and is never less", () => {
  let before = 0;
  for (let acW = 0; acW <= 8000; acW += 50) {
    const dcW = inverterDcW(acW, SETTINGS);
    expect(dcW).toBeGreaterThan(acW);
    expect(dcW).toBeGreaterThan(before);
    before = dcW;
  }
});

test("over its rating it holds for a minute; over its surge rating it trips at once", () => {
  const inverter = createInverter(SETTINGS);
  for (let s = 0; s < 60; s += 1) watchOverload(inverter, 8001, 1);
  expect(inverter.isOn).toBe(true);
  watchOverload(inverter, 8001, 1);
  expect(inverter).toMatchObject({ isOn: false, isFaulty: true });
  const other = createInverter(SETTINGS);
  for (let s = 0; s < 59; s += 1) watchOverload(other, 8001, 1);
  watchOverload(other, 8000, 1);
  watchOverload(other, 8001, 1);
  expect(other.isOn).toBe(true);
  watchOverload(other, 16_001, 1);
  expect(other.isOn).toBe(false);
});

test("it comes back after two minutes, and only with a recovered battery", () => {
  const inverter = createInverter(SETTINGS);
  turnOff(inverter);
  watchRestart(inverter, SETTINGS.restartV, 119);
  expect(inverter.isOn).toBe(false);
  watchRestart(inverter, SETTINGS.restartV - 0.01, 1);
  expect(inverter.isOn).toBe(false);
  watchRestart(inverter, SETTINGS.restartV, 1);
  expect(inverter.isOn).toBe(true);
});
