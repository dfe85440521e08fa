import fc from "fast-check";
import { expect, test } from "vitest";
import { formatQuantity, parseQuantity } from "../../config/quantities.ts";
import type { Dimension } from "../../config/units.ts";

test.each<[string, Dimension, number]>([
  ["2 kW", "power", 2000],
  ["750W", "power", 750],
  ["95 %", "fraction", 0.95],
  ["57 %", "fraction", 0.57],
  ["5 min", "duration", 300_000],
  ["90 s", "duration", 90_000],
  ["1 h", "duration", 3_600_000],
  ["250 ms", "duration", 250],
  ["7 d", "duration", 604_800_000],
  ["200 L", "volume", 200],
  ["58 °C", "temperature", 58],
  ["58 C", "temperature", 58],
  ["4 K", "temperatureDifference", 4],
  ["27.6 V", "voltage", 27.6],
  ["-4 mV", "voltage", -0.004],
  ["−4 mV", "voltage", -0.004],
  ["400 Ah", "charge", 400],
  ["8 kWh", "energy", 8000],
  ["4.5 kVA", "apparentPower", 4500],
  ["16 kW", "apparentPower", 16_000],
  ["38 deg", "angle", 38],
  ["38°", "angle", 38],
  ["1350 m", "length", 1350],
  ["40 A", "current", 40],
  ["10 mOhm", "resistance", 0.01],
  ["10 mΩ", "resistance", 0.01],
  ["10 Ohm", "resistance", 10],
  ["10 Ω", "resistance", 10],
  ["800 W/m2", "irradiance", 800],
  ["800 W/m²", "irradiance", 800],
  ["38 °", "angle", 38],
  ["50 Hz", "frequency", 50],
  ["1.005 kW", "power", 1005],
  ["2e3 W", "power", 2000],
  ["  1.5  kW ", "power", 1500],
  ["1\u00a0kW", "power", 1000],
])("%s as %s is %d", (written, dimension, value) => {
  expect(parseQuantity(written, dimension)).toEqual({ ok: true, value });
});

test.each<[string | number, Dimension, string, string]>([
  [2000, "power", "unit-missing", "2000 W or 2 kW?"],
  [500, "power", "unit-missing", "500 W"],
  [2, "power", "unit-missing", "2 W or 2 kW?"],
  [0.95, "fraction", "unit-missing", "95 %"],
  [95, "fraction", "unit-missing", "95 %"],
  [60, "duration", "unit-missing", "60 s or 60 min?"],
  ["27.6", "voltage", "unit-missing", "27.6 V"],
  [172, "angle", "unit-missing", "172°"],
  ["172 degrees", "angle", "wrong-unit", "172°"],
  ["58 celsius", "temperature", "wrong-unit", "58 °C"],
  [58, "temperature", "unit-missing", "58 °C"],
  ["10 ohms", "resistance", "wrong-unit", "10 Ω"],
  [800, "irradiance", "unit-missing", "800 W/m²"],
  ["2,5 kW", "power", "not-a-quantity", "with a decimal point: 2.5 kW"],
  ["2 kw", "power", "wrong-unit", "2 kW"],
  ["2 KW", "power", "wrong-unit", "2 kW"],
  ["5 minutes", "duration", "wrong-unit", "5 min"],
  ["3 kwh", "energy", "wrong-unit", "3 kWh"],
  ["3 kW", "energy", "wrong-unit", "kW is the unit of a power; write for example 3 kWh"],
  ["58 F", "temperature", "wrong-unit", "for example 58 °C"],
  ["5 constructor", "power", "wrong-unit", "for example 750 W"],
  ["", "power", "not-a-quantity", "such as 750 W"],
  ["about 5 W", "power", "not-a-quantity", "such as 750 W"],
  ["1e999 W", "power", "not-a-quantity", ""],
  ["Infinity W", "power", "not-a-quantity", "such as 750 W"],
  ["0x10 W", "power", "wrong-unit", "for example 750 W"],
])("%j as %s is refused as %s", (written, dimension, code, suggestion) => {
  const parsed = parseQuantity(written, dimension);
  expect(parsed.ok).toBe(false);
  if (parsed.ok) return;
  expect(parsed.problem.code).toBe(code);
  expect(parsed.problem.suggestion ?? "").toBe(suggestion);
});

test.each<[number, Dimension, string]>([
  [6600, "power", "6.6 kW"],
  [750, "power", "750 W"],
  [5_400_000, "duration", "90 min"],
  [0, "duration", "0 s"],
  [0, "temperature", "0 °C"],
  [90, "temperature", "90 °C"],
  [0, "angle", "0°"],
  [90, "angle", "90°"],
  [0.5, "angle", "0.5°"],
  [0, "irradiance", "0 W/m²"],
  [0, "resistance", "0 Ω"],
  [0.94, "fraction", "94 %"],
  [-0.004, "voltage", "-4 mV"],
  [0.01, "resistance", "10 mΩ"],
])("%d as %s reads %s", (value, dimension, written) => {
  expect(formatQuantity(value, dimension)).toBe(written);
});

const DIMENSIONS: readonly Dimension[] = [
  "power",
  "apparentPower",
  "energy",
  "voltage",
  "current",
  "charge",
  "resistance",
  "frequency",
  "duration",
  "temperature",
  "temperatureDifference",
  "angle",
  "length",
  "volume",
  "flow",
  "irradiance",
  "fraction",
];

test("what is printed reads back to the same number, to the last bit", () => {
  // Decimals of up to 12 digits, as people and data sheets write them, and the borders of units.
  const decimal = fc
    .tuple(
      fc.integer({ min: -999_999_999_999, max: 999_999_999_999 }),
      fc.integer({ min: -6, max: 3 }),
    )
    .map(([digits, exponent]) => Number(`${String(digits)}e${String(exponent)}`));
  const border = fc.constantFrom(0, 0.001, 0.999, 1, 999, 999.9, 1000, 59_999, 60_000, 3_600_000);
  fc.assert(
    fc.property(fc.oneof(decimal, border), fc.constantFrom(...DIMENSIONS), (value, dimension) => {
      const written = formatQuantity(value, dimension);
      expect(parseQuantity(written, dimension), written).toEqual({ ok: true, value: value + 0 });
    }),
    { seed: 20_260_301, numRuns: 2000 },
  );
});
