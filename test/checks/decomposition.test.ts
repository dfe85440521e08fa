import { expect, test } from "vitest";
import { erbs } from "../../service/solar/decomposition.ts";
import { extraterrestrialWm2 } from "../../service/solar/extraterrestrial.ts";

/** pvlib test_irradiance.py, Erbs: day of year, GHI, zenith → DNI, DHI. Tolerance 0.01 W/m². */
const PVLIB = [
  [1, 50, 85, 96.7192672, 41.5703604],
  [1, 1000, 10, 794.205651, 217.860117],
  [171, 1000, 10, 842.001578, 170.790318],
  [1, 0, 120, 0, 0],
] as const;

test("pvlib test_irradiance.py: Erbs, four rows", () => {
  let compared = 0;
  for (const [day, globalWm2, zenithDeg, beam, diffuse] of PVLIB) {
    const found = erbs(globalWm2, zenithDeg, extraterrestrialWm2(day));
    expect(Math.abs(found.beamNormalWm2 - beam)).toBeLessThan(0.01);
    expect(Math.abs(found.diffuseWm2 - diffuse)).toBeLessThan(0.01);
    compared += 1;
  }
  expect(compared).toBe(4);
});

test("low sun is all diffuse; nothing is ever negative or unknown", () => {
  expect(erbs(1, 89.99999, 1400)).toEqual({ beamNormalWm2: 0, diffuseWm2: 1 });
  expect(erbs(30, 87, 1400)).toEqual({ beamNormalWm2: 0, diffuseWm2: 30 });
  for (let zenithDeg = 0; zenithDeg <= 180; zenithDeg += 3) {
    for (const globalWm2 of [0, 1, 50, 400, 1000, 1400]) {
      const { beamNormalWm2, diffuseWm2 } = erbs(globalWm2, zenithDeg, 1367);
      expect(beamNormalWm2).toBeGreaterThanOrEqual(0);
      expect(diffuseWm2).toBeGreaterThanOrEqual(0);
      const horizontal = beamNormalWm2 * Math.cos((zenithDeg * Math.PI) / 180) + diffuseWm2;
      expect(horizontal).toBeCloseTo(globalWm2, 6);
    }
  }
});
