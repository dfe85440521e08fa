import { expect, test } from "vitest";
import { frontOf } from "../../../simulator/tune/front.ts";

const now = { usefulDivertedWh: 100, reserveDrawnWh: 10, misses: 1, starts: 10 };

test("what another beats in everything is out, and so is what misses more days than now", () => {
  const all = [
    { ...now, usefulDivertedWh: 110 },
    { ...now, usefulDivertedWh: 120 },
    { ...now, usefulDivertedWh: 90, starts: 5 },
    { ...now, usefulDivertedWh: 500, misses: 2 },
    { ...now, usefulDivertedWh: 120 },
  ];
  expect(frontOf(all, now)).toEqual([1, 2]);
});
