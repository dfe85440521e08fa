/**
 * Charge set-points against battery temperature.
 *
 * Truth: CHECKS.md BA-3, a handbook's worked example with sign, V(T) = Vref + cells · k · (T − 25):
 * 12 V (6 cells), absorption 14.4 V at 25 °C, for k = −5, −4 and −3 mV/K/cell; and the range in
 * which the standard for solar home systems by GTZ (as quoted by energypedia) compensates,
 * −10…+55 °C.
 */
import { describe, expect, it } from "vitest";
import { compensatedVoltageV, setpointToleranceV } from "../../service/control/charge-voltage.ts";
import type { Reading } from "../../service/control/observation.ts";
import {
  floodedBattery,
  fresh,
  lfpBattery,
  lost,
  observe,
  site,
  unmapped,
} from "../control/given.ts";

const CELLS = 6;
const ABSORPTION_V = 14.4;
/** The table's values are exact products: what is left is rounding in binary. [V] */
const TOLERANCE_DIGITS = 9;

function setpointV(kVPerKPerCell: number, temperature: Reading): number {
  const battery = floodedBattery({
    nominalVoltageV: 12,
    absorptionVoltageV: ABSORPTION_V,
    compensationVPerK: CELLS * kVPerKPerCell,
  });
  const observation = observe(site({ battery }), 0, { battery: { temperatureC: temperature } });
  return compensatedVoltageV(battery.absorptionVoltageV, observation, battery);
}

describe("the absorption set-point of a 12 V battery", () => {
  it.each([
    [-0.005, -10, 15.45],
    [-0.005, 0, 15.15],
    [-0.005, 5, 15.0],
    [-0.005, 45, 13.8],
    [-0.004, -10, 15.24],
    [-0.004, 0, 15.0],
    [-0.004, 5, 14.88],
    [-0.004, 45, 13.92],
    [-0.003, -10, 15.03],
    [-0.003, 0, 14.85],
    [-0.003, 5, 14.76],
    [-0.003, 45, 14.04],
  ])("k %d V/K/cell, %d °C: %d V", (k, celsius, volts) => {
    expect(setpointV(k, fresh(celsius))).toBeCloseTo(volts, TOLERANCE_DIGITS);
  });

  it("is the given one at 25 °C whatever the coefficient", () => {
    for (const k of [-0.005, -0.004, -0.003, 0]) expect(setpointV(k, fresh(25))).toBe(ABSORPTION_V);
  });

  it.each([
    [-10.1, -10],
    [-40, -10],
    [55.1, 55],
    [90, 55],
  ])(
    "at %d °C is the one at %d °C: beyond the standard's range it does not move",
    (beyond, end) => {
      expect(setpointV(-0.005, fresh(beyond))).toBe(setpointV(-0.005, fresh(end)));
    },
  );

  it("falls with every kelvin inside the range", () => {
    for (let celsius = -10; celsius < 55; celsius += 1) {
      expect(setpointV(-0.003, fresh(celsius + 1))).toBeLessThan(setpointV(-0.003, fresh(celsius)));
    }
  });

  it("is the one for 25 °C without a temperature that may be acted upon", () => {
    const unusable = [unmapped, lost(-10), lost(-10, "implausible"), lost(-10, "retained")];
    for (const reading of unusable) expect(setpointV(-0.005, reading)).toBe(ABSORPTION_V);
  });
});

describe("an LFP set-point", () => {
  it("is not compensated, at any temperature", () => {
    const battery = lfpBattery();
    for (const celsius of [-20, 0, 25, 60]) {
      const observation = observe(site(), 0, { battery: { temperatureC: fresh(celsius) } });
      expect(compensatedVoltageV(56, observation, battery)).toBe(56);
    }
  });
});

describe("held at the set-point", () => {
  // Common practice, no source: 0.1 V for each 12 V of the battery.
  it.each([
    [12, 0.1],
    [24, 0.2],
    [48, 0.4],
  ])("a %d V battery may be %d V under it", (nominalVoltageV, volts) => {
    expect(setpointToleranceV(floodedBattery({ nominalVoltageV }))).toBeCloseTo(volts, 12);
  });
});
