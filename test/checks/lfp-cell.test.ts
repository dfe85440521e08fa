import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import {
  cellEnergyWhPerAh,
  cellVoltageV,
  meanCellVoltageV,
} from "../../simulator/plant/lfp-cell.ts";

/** Open data of Sunil et al., IEEE TIM 2025: see test/data/battery-ocv/SOURCE.txt. */
const FILE = new URL("../data/battery-ocv/lfp_APR18650M1B_pseudo_ocv_C32.csv", import.meta.url);

test("LFP open-circuit voltage: all 600 measured points within 2.1 mV", () => {
  const rows = readFileSync(FILE, "utf8").trim().split("\n").slice(1);
  let compared = 0;
  for (const row of rows) {
    const [soc = NaN, voltageV = NaN] = row.split(",").map(Number);
    // The knee below 2 % is nearly upright: there the points' own rounding of SOC shows.
    const toleranceV = soc < 0.02 ? 0.02 : 0.0021;
    expect(Math.abs(cellVoltageV(soc) - voltageV), `at ${soc}`).toBeLessThan(toleranceV);
    compared += 1;
  }
  expect(compared).toBe(600);
});

/** CHECKS BA-7, rows as printed there; slope 1.08 mV per % from 0.2972 to 0.9833. */
test("LFP open-circuit voltage: the plateau is flat, the ends are not", () => {
  for (const [soc, voltageV] of [
    [0.0885, 3.1942],
    [0.2972, 3.2772],
    [0.9833, 3.3511],
    [0.995, 3.418],
    [1, 3.5981],
  ] as const) {
    expect(Math.abs(cellVoltageV(soc) - voltageV)).toBeLessThan(0.003);
  }
  const slope = (cellVoltageV(0.9833) - cellVoltageV(0.2972)) / 68.61;
  expect(slope * 1000).toBeCloseTo(1.08, 1);
});

test("the mean voltage between two charges is the energy's difference quotient", () => {
  for (const [from, to] of [
    [0, 1],
    [0.4, 0.41],
    [0.97, 1],
    [0.99, 0.98],
  ] as const) {
    let sum = 0;
    const n = 200_000;
    for (let i = 0; i < n; i += 1) sum += cellVoltageV(from + ((i + 0.5) / n) * (to - from));
    expect(meanCellVoltageV(from, to)).toBeCloseTo(sum / n, 6);
    const energy = cellEnergyWhPerAh(to) - cellEnergyWhPerAh(from);
    expect(energy).toBeCloseTo((sum / n) * (to - from), 6);
  }
});
