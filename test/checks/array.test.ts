import { expect, test } from "vitest";
import { arrayDcPowerW, incidenceModifier } from "../../service/solar/array.ts";

/** pvlib test_pvsystem.py, `pvwatts_dc`: 900 W/m², 30 °C, 100 W, −0.003/K. */
test("PVWatts v5: DC power", () => {
  const input = { irradianceWm2: 900, cellTemperatureC: 30, peakW: 100, gammaPerK: -0.003 };
  expect(arrayDcPowerW(input)).toBeCloseTo(88.65, 10);
  expect(arrayDcPowerW({ ...input, irradianceWm2: 0 })).toBe(0);
});

/** pvlib test_iam.py, `ashrae` with b 0.05. */
test("ASHRAE incidence modifier: three angles and grazing light", () => {
  for (const [angleDeg, expected] of [
    [22.5, 0.99588039],
    [45, 0.97928932],
    [67.5, 0.9193437],
  ] as const) {
    expect(incidenceModifier(Math.cos((angleDeg * Math.PI) / 180))).toBeCloseTo(expected, 7);
  }
  expect(incidenceModifier(0)).toBe(0);
  expect(incidenceModifier(-0.5)).toBe(0);
});
