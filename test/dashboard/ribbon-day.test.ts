import { expect, test } from "vitest";
import {
  askedStretches,
  greatestW,
  instantOf,
  means,
  moved,
  ribbonDay,
  zoomed,
} from "../../service/dashboard/days/ribbon-day.ts";
import type { DayView } from "../../service/past-desk.ts";

/** Clocks are put forward on this day at 02:00: it has 23 hours. */
const VIEW: DayView = {
  formatVersion: 1,
  date: "2026-03-29",
  from: "2026-03-28T23:00:00Z",
  to: "2026-03-29T22:00:00Z",
  isOver: true,
  figures: null,
  minutes: [0, 1, 1379],
  sourcesPowerW: [0, 0, 900],
  pvPowerW: [0, 0, 900],
  potentialW: [null, null, null],
  curtailedFraction: [0, 0, 0],
  batteryPowerW: [-100, null, 10],
  socFraction: [0.8, 0.79, 0.9],
  ruleCurveFraction: [0.94, 0.94, 0.94],
  usedPowerW: [100, 110, 120],
  basePowerW: [100, 110, 120],
  generatorPowerW: [null, null, null],
  chargeStages: [null, null, null],
  loads: {
    pump: { label: "Pump", powerW: [0, 0, 750], tankTemperatureC: null, asked: [null, null, null] },
  },
};

test("a day keeps its length, its holes, and its local clock", () => {
  const day = ribbonDay(VIEW);
  expect(day.lengthMin).toBe(1380);
  expect(day.potentialW).toBeNull();
  expect(day.sourcesW.length).toBe(1380);
  expect([day.socFraction[0], day.socFraction[2], day.socFraction[1379]]).toEqual([0.8, null, 0.9]);
  expect(day.loads[0]?.powerW[1379]).toBe(750);
  expect(greatestW(day)).toBe(900);
  expect(instantOf(day, 180)).toBe("2026-03-29T02:00:00.000Z");
});

test("what was asked is told in stretches", () => {
  expect(askedStretches([])).toEqual([]);
  expect(askedStretches(["run", "run", null, "run", "hold", "hold", null])).toEqual([
    { from: 0, to: 2, wants: "run" },
    { from: 3, to: 4, wants: "run" },
    { from: 4, to: 6, wants: "hold" },
  ]);
});

test("parts of a span have the mean of what is known in them", () => {
  const span = { from: 0, to: 6 };
  expect(means([1, 3, null, null, 5, null], span, 3)).toEqual([2, null, 5]);
});

test("zoom and shift stay within the day", () => {
  const whole = { from: 0, to: 1440 };
  const lengthMin = 1440;
  expect(zoomed(whole, { factor: 0.5, around: 30, lengthMin })).toEqual({ from: 0, to: 720 });
  expect(zoomed(whole, { factor: 0.01, around: 1439, lengthMin })).toEqual({
    from: 1380,
    to: 1440,
  });
  expect(zoomed(whole, { factor: 2, around: 700, lengthMin })).toEqual(whole);
  expect(moved({ from: 0, to: 120 }, -0.5, lengthMin)).toEqual({ from: 0, to: 120 });
  expect(moved({ from: 1300, to: 1420 }, 0.5, lengthMin)).toEqual({ from: 1320, to: 1440 });
});
