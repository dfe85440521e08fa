import { expect, test } from "vitest";
import { clearSkyOf } from "../../service/solar/clear-sky.ts";

const SEA = { elevationM: 0, opticalDepth: 0.1, waterCm: 1 };

/**
 * pvlib test_clearsky.py, simplified Solis at an apparent altitude of 80° and 1364 W/m²: optical
 * depth, water → DNI, GHI. Its sea level is 101,325 Pa, ours at 0 m a millionth less.
 */
const SOLIS = [
  [0.1, 1, 959.3354628, 1064.65314509],
  [0, 1, 1056.61710493, 1105.7229086],
  [0.05, 1, 1007.50558875, 1085.74139063],
  [1, 1, 342.45810926, 638.63409683],
  [0.1, 0, 1001.15353307, 1107.84678941],
  [0.1, 0.2, 1001.15353307, 1107.84678941],
  [0.1, 0.5, 983.51027357, 1089.62306672],
  [0.1, 5, 872.02335029, 974.18046717],
  [0.5, 10, 530.31697378, 760.04527609],
] as const;

test("pvlib test_clearsky.py: simplified Solis, nine airs", () => {
  let compared = 0;
  for (const [opticalDepth, waterCm, dni, ghi] of SOLIS) {
    const sky = clearSkyOf({ ...SEA, opticalDepth, waterCm })(80, 1364);
    expect(Math.abs(sky.beamNormalWm2 / dni - 1)).toBeLessThan(1e-6);
    expect(Math.abs(sky.globalWm2 / ghi - 1)).toBeLessThan(1e-6);
    compared += 1;
  }
  expect(compared).toBe(9);
});

test("pvlib test_clearsky.py: simplified Solis, sun outside the air and the night", () => {
  const sky = clearSkyOf(SEA);
  expect(sky(80, 1370).beamNormalWm2).toBeCloseTo(963.555414, 2);
  expect(sky(80, 1370).globalWm2).toBeCloseTo(1069.33637, 2);
  expect(sky(-10, 1364)).toStrictEqual({ globalWm2: 0, beamNormalWm2: 0, diffuseWm2: 0 });
});

/** pvlib test_clearsky.py at 95,000 and 98,000 Pa; heights by its `pres2alt` (CHECKS CS-5). */
test("pvlib test_clearsky.py: simplified Solis, two heights", () => {
  for (const [pressurePa, dni, ghi] of [
    [95_000, 964.26930718, 1067.96543669],
    [98_000, 961.88811874, 1066.36847963],
  ] as const) {
    const elevationM = 44331.5 - 4946.62 * Math.exp(0.190263 * Math.log(pressurePa));
    const sky = clearSkyOf({ ...SEA, elevationM })(80, 1364);
    expect(sky.beamNormalWm2).toBeCloseTo(dni, 1);
    expect(sky.globalWm2).toBeCloseTo(ghi, 1);
  }
});

/** Worked from the source's formula by a script of our own at 10°: beam 471.669, global 125.281. */
test("simplified Solis at low sun", () => {
  const sky = clearSkyOf(SEA)(10, 1364);
  expect(sky.beamNormalWm2).toBeCloseTo(471.669, 1);
  expect(sky.globalWm2).toBeCloseTo(125.281, 1);
  expect(sky.diffuseWm2).toBeCloseTo(125.281 - 471.669 * Math.sin(Math.PI / 18), 1);
});
