/** Fuel of a generator. Truth: CHECKS.md section 8, consumption chart of diesel sets, 20 kW row. */
import { expect, test } from "vitest";
import {
  advanceGenerator,
  createGenerator,
  fuelLPerH,
  offeredW,
} from "../../simulator/plant/generator.ts";

const L_PER_GAL = 3.785411784;

test.each([
  [0.25, 0.6],
  [0.5, 0.9],
  [0.75, 1.3],
  [1, 1.6],
])("20 kW at %d of its load: %d gal/h within 10 %", (share, galPerH) => {
  const found = fuelLPerH(20_000, 20_000 * share) / L_PER_GAL;
  expect(Math.abs(found / galPerH - 1)).toBeLessThan(0.1);
});

test("some fuel without load, and less for each kWh the higher the load", () => {
  expect(fuelLPerH(20_000, 0)).toBeGreaterThan(0);
  const perKwh = [0.1, 0.25, 0.5, 0.75, 1].map(
    (share) => fuelLPerH(20_000, 20_000 * share) / share,
  );
  expect([...perKwh].sort((a, b) => b - a)).toEqual(perKwh);
});

test("it warms up before its charger gives anything; the fuel of the run by hand", () => {
  const generator = createGenerator({
    ratedW: 5000,
    chargerW: 2700,
    chargerEfficiencyFraction: 0.9,
    warmUpS: 180,
  });
  const offered: number[] = [];
  for (let minute = 0; minute < 63; minute += 1) {
    offered.push(offeredW(generator, true));
    advanceGenerator(generator, offered.at(-1) ?? 0, 60);
  }
  expect(offered.slice(0, 4)).toEqual([0, 0, 0, 2700]);
  // 63 min at 0.0473 L/kW of rating, and 60 min at 3 kW: 0.2483 + 0.7722 L.
  expect(generator.fuelL).toBeCloseTo(1.0205, 4);
  expect(offeredW(generator, false)).toBe(0);
  expect(offeredW(generator, true)).toBe(0);
  expect(generator.starts).toBe(2);
});
