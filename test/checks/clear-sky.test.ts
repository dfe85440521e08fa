import { expect, test } from "vitest";
import { ineichenSky, pressurePa, relativeAirmass } from "../../simulator/weather/sky.ts";

/** pvlib test_clearsky.py: zenith, absolute airmass, height, I0 → GHI, DNI, DHI; turbidity 3. */
const INEICHEN = [
  [10, 1, 0, 1364, 1038.159219, 942.2081860378344, 110.26529293612793],
  [10, 1, 0, 1370, 1042.72590228, 946.35279683, 110.75033088],
  [10, 1, 2000, 1364, 1134.24312405, 994.95377835, 154.40492924],
  [82.85457044, 6.97935524, 0, 1364, 65.49426624, 321.16092181, 25.54562017],
  [46.0467599, 1.32355476, 0, 1364, 704.6968125, 888.90147035, 87.73601277],
  [10.56413562, 0.93527685, 0, 1364, 1044.1230677, 953.24925854, 107.03109696],
  [34.86074109, 1.12008114, 0, 1364, 853.02065704, 922.06124712, 96.42909484],
  [72.41687122, 3.01614096, 0, 1364, 251.99427693, 655.44925241, 53.9901349],
] as const;

test("pvlib test_clearsky.py: Ineichen and Perez, eight rows and the night", () => {
  let compared = 0;
  for (const [zenithDeg, absoluteAirmass, elevationM, extra, ghi, dni, dhi] of INEICHEN) {
    const sky = ineichenSky({
      zenithDeg,
      absoluteAirmass,
      linkeTurbidity: 3,
      elevationM,
      extraterrestrialWm2: extra,
    });
    expect(Math.abs(sky.globalWm2 / ghi - 1)).toBeLessThan(1e-5);
    expect(Math.abs(sky.beamNormalWm2 / dni - 1)).toBeLessThan(1e-5);
    expect(Math.abs(sky.diffuseWm2 / dhi - 1)).toBeLessThan(1e-5);
    compared += 1;
  }
  expect(compared).toBe(8);
  const night = {
    absoluteAirmass: 30,
    linkeTurbidity: 3,
    elevationM: 0,
    extraterrestrialWm2: 1364,
  };
  expect(ineichenSky({ ...night, zenithDeg: 95 }).globalWm2).toBe(0);
});

/** pvlib test_atmosphere.py, Kasten & Young 1989; tolerance of that test. */
test("relative airmass: three rows", () => {
  expect(Math.abs(relativeAirmass(89.9) - 36.467)).toBeLessThan(0.001);
  expect(Math.abs(relativeAirmass(80) - 5.586)).toBeLessThan(0.001);
  expect(Math.abs(relativeAirmass(0) - 1)).toBeLessThan(0.001);
});

/** pvlib test_atmosphere.py: pressure by altitude. */
test("air pressure by height: four rows", () => {
  for (const [elevationM, expectedPa] of [
    [-100, 102532.073],
    [0, 101324.999],
    [1000, 89874.75],
    [8000, 35600.496],
  ] as const) {
    expect(Math.abs(pressurePa(elevationM) - expectedPa)).toBeLessThan(0.01);
  }
});
