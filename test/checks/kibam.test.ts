/**
 * The two-tank model of capacity. Truth: CHECKS.md BA-5, from the equations of Manwell and McGowan
 * as the SSC library (NREL) has them; its test battery is 100 Ah in 20 h, 93 Ah in 10 h and 60 Ah
 * in 1 h, half full, in steps of an hour.
 */
import { expect, test } from "vitest";
import {
  capacityAh,
  dischargeMaxA,
  fitKibam,
  restedTanks,
  spilled,
  tanksAfter,
} from "../../simulator/plant/kibam.ts";
import type { KibamTanks } from "../../simulator/plant/kibam.ts";

const FITTED = fitKibam({ ratedHours: 20, ratedAh: 100, halfAh: 93, hourAh: 60 });

const chargeAh = ({ availableAh, boundAh }: KibamTanks): number => availableAh + boundAh;

test("the fit: k 0.677 per hour, c 0.475110, 108.1593 Ah in both tanks", () => {
  expect(FITTED.ratePerH).toBeCloseTo(0.677, 4);
  expect(FITTED.availableFraction).toBeCloseTo(0.47511, 4);
  expect(FITTED.chargeMaxAh).toBeCloseTo(108.1593, 3);
});

test("capacity against rate: 100, 93 and 60 Ah; 51.388 Ah at once, 108.159 Ah in the end", () => {
  for (const [hours, expectedAh] of [
    [20, 100],
    [10, 93],
    [1, 60],
  ] as const) {
    expect(Math.abs(capacityAh(FITTED, hours) - expectedAh)).toBeLessThan(0.03);
  }
  expect(capacityAh(FITTED, 1e-4)).toBeCloseTo(51.388, 2);
  expect(capacityAh(FITTED, 1e6)).toBeCloseTo(108.159, 2);
});

test("an hour at 1.5 A, at 3 A, then as much as it gives: 26.65 A and 6.26 A", () => {
  let tanks = restedTanks(FITTED, FITTED.chargeMaxAh / 2);
  expect(tanks.availableAh).toBeCloseTo(25.6938, 3);
  for (const [dischargeA, expectedAh] of [
    [1.5, 52.58],
    [3, 49.58],
  ] as const) {
    tanks = tanksAfter(FITTED, tanks, { dischargeA, hours: 1 });
    expect(chargeAh(tanks)).toBeCloseTo(expectedAh, 2);
  }
  for (const [expectedA, leftAh] of [
    [26.6525, 22.927],
    [6.2558, 16.67],
  ] as const) {
    const dischargeA = dischargeMaxA(FITTED, tanks, 1);
    expect(dischargeA).toBeCloseTo(expectedA, 2);
    tanks = tanksAfter(FITTED, tanks, { dischargeA, hours: 1 });
    expect(chargeAh(tanks)).toBeCloseTo(leftAh, 2);
    expect(tanks.availableAh).toBeCloseTo(0, 9);
  }
});

test("30 A out and in again; then it gives 33.3 A for an hour", () => {
  const half = restedTanks(FITTED, FITTED.chargeMaxAh / 2);
  const drawn = tanksAfter(FITTED, half, { dischargeA: 30, hours: 1 });
  expect(chargeAh(drawn)).toBeCloseTo(24.07, 1);
  const back = tanksAfter(FITTED, drawn, { dischargeA: -30, hours: 1 });
  expect(chargeAh(back)).toBeCloseTo(54.07, 1);
  expect(back.availableAh).toBeCloseTo(31.32, 1);
  const limited = dischargeMaxA(FITTED, back, 1);
  expect(limited).toBeCloseTo(33.3386, 2);
});

test("the tanks' sum changes by current × time alone, and what the first cannot hold spills", () => {
  const full = restedTanks(FITTED, FITTED.chargeMaxAh);
  const after = tanksAfter(FITTED, full, { dischargeA: 7, hours: 0.25 });
  expect(chargeAh(after)).toBeCloseTo(FITTED.chargeMaxAh - 1.75, 10);
  expect(spilled(FITTED, after)).toBe(after);
  const forced = tanksAfter(FITTED, after, { dischargeA: -103, hours: 1 / 60 });
  const brimAh = FITTED.availableFraction * FITTED.chargeMaxAh;
  expect(forced.availableAh).toBeGreaterThan(brimAh);
  const held = spilled(FITTED, forced);
  expect(held.availableAh).toBe(brimAh);
  expect(chargeAh(held)).toBeCloseTo(chargeAh(forced), 10);
});
