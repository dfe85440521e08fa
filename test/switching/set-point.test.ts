import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { setPointPowerW } from "../../config/set-point.ts";
import type { SetPointSettings } from "../../config/site-settings.ts";
import { setPointPayload } from "../../service/switching/set-point.ts";

const PERCENT: SetPointSettings = {
  payload: ['{"duty": ', "}"],
  unitW: 30,
  decimals: 1,
  minW: 200,
  stepW: 10,
};
const WATTS: SetPointSettings = { ...PERCENT, payload: ["", " W"], unitW: 1, decimals: 0 };
const AMPS: SetPointSettings = { ...PERCENT, payload: ["", ""], unitW: 230, decimals: 2 };

describe("a set-point in a payload", () => {
  test.each([
    [PERCENT, 3000, '{"duty": 100.0}'],
    [PERCENT, 900, '{"duty": 30.0}'],
    [PERCENT, 1234, '{"duty": 41.1}'],
    [PERCENT, 870.000_000_01, '{"duty": 29.0}'],
    [WATTS, 1499.9, "1499 W"],
    [WATTS, 1500, "1500 W"],
    [AMPS, 2300, "10.00"],
    [AMPS, 1000, "4.34"],
  ])("is rounded down to what the payload can say (%#)", (setPoint, powerW, payload) => {
    expect(setPointPayload(setPoint, powerW)).toBe(payload);
  });

  test("is never under the least power, however coarse the payload", () => {
    const coarse = { ...PERCENT, decimals: 0 };
    expect(setPointPayload(coarse, 200)).toBe('{"duty": 7}');
    expect(setPointPayload(PERCENT, 199.99)).toBe('{"duty": 6.7}');
  });

  test("reads back to no more than was allotted, and less than one digit under it", () => {
    fc.assert(
      fc.property(
        fc.constantFrom(PERCENT, WATTS, AMPS),
        fc.double({ min: 210, max: 3000, noNaN: true }),
        (setPoint, powerW) => {
          const read = setPointPowerW(setPoint, setPointPayload(setPoint, powerW));
          const digitW = setPoint.unitW / 10 ** setPoint.decimals;
          expect(read).toBeLessThanOrEqual(powerW + 1e-3);
          expect(read).toBeGreaterThan(powerW - digitW - 1e-3);
        },
      ),
    );
  });

  test.each([
    "",
    "100",
    '{"duty": }',
    '{"duty": -1}',
    '{"duty": 1e9}',
    '{"duty": 5',
    'x{"duty": 5}',
  ])("%j is none", (payload) => {
    expect(setPointPowerW(PERCENT, payload)).toBeUndefined();
  });
});
