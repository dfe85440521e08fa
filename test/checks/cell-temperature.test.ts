import { expect, test } from "vitest";
import { faimanCellTemperatureC } from "../../service/solar/cell-temperature.ts";

/** pvlib test_temperature.py, Faiman with its default u0 25, u1 6.84. */
test("pvlib test_temperature.py: Faiman, two rows", () => {
  expect(Math.abs(faimanCellTemperatureC(900, 20, 5) - 35.203)).toBeLessThan(0.001);
  expect(Math.abs(faimanCellTemperatureC(500, 10, 5) - 18.446)).toBeLessThan(0.001);
});

test("in the dark the cell has the air's temperature", () => {
  expect(faimanCellTemperatureC(0, -7, 3)).toBe(-7);
});
