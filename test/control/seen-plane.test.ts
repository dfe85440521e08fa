/**
 * The plane that an array was seen to be, against one that really stands otherwise: the power of
 * that one comes from the same formulas, so that only the learning is at stake.
 */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { initialPlane, learnPlane } from "../../service/control/seen-plane.ts";
import { planeFraction, planeSpread } from "../../service/control/seen-plane.ts";
import type { SeenPlane } from "../../service/control/seen-plane.ts";
import { planeNormal } from "../../service/solar/array.ts";
import { modelPowerW, nearPowerFrom } from "../../service/solar/array-model.ts";
import { HOUR_MS, MINUTE_MS } from "./given.ts";

const place = { latitudeDeg: 44.2, longitudeDeg: 6.9, elevationM: 1350 };
const roof = { peakW: 6600, tiltDeg: 38, azimuthDeg: 172 };
/** Solar noon in early May. */
const NOON_MS = Date.parse("2026-05-10T11:30:00Z");
const DAY_MS = 24 * HOUR_MS;
const FIRST = initialPlane(planeNormal(roof));

const fromAt = (atMs: number) => nearPowerFrom(roof, place, atMs);

/** Clear mornings of an array that really stands so, until the battery is full. */
function mornings(real: typeof roof, days: number, shade: (hour: number) => number = () => 1) {
  let plane: SeenPlane = FIRST;
  for (let day = 0; day < days; day += 1) {
    for (let hour = -5; hour < -0.5; hour += 1 / 12) {
      const atMs = NOON_MS + day * DAY_MS + Math.round(hour * 60) * MINUTE_MS;
      const modelW = modelPowerW(roof, place, atMs);
      const fraction = (shade(hour) * modelPowerW(real, place, atMs)) / modelW;
      const sample = { from: fromAt(atMs), fraction, powerFraction: modelW / roof.peakW };
      plane = learnPlane(plane, { ...sample, brightness: 1 });
    }
  }
  return plane;
}

/** Told over true, four hours past noon. */
function afternoon(plane: SeenPlane, real: typeof roof, days: number): number {
  const atMs = NOON_MS + days * DAY_MS + 4 * HOUR_MS;
  const truth = modelPowerW(real, place, atMs) / modelPowerW(roof, place, atMs);
  return planeFraction(plane, fromAt(atMs)) / truth;
}

describe("the plane that an array is seen to be", () => {
  it("is that of the settings at first", () => {
    for (let hour = -5; hour < 6; hour += 1) {
      expect(planeFraction(FIRST, fromAt(NOON_MS + hour * HOUR_MS))).toBeCloseTo(1, 9);
    }
  });

  it.each([-10, -5, 5, 10])("tells the afternoon of one turned by %i°, from mornings", (turn) => {
    const real = { ...roof, azimuthDeg: roof.azimuthDeg + turn };
    const plane = mornings(real, 10);
    // By the settings alone it would be as much too high or too low as this.
    expect(Math.abs(afternoon(FIRST, real, 10) - 1)).toBeGreaterThan(0.06);
    expect(Math.abs(afternoon(plane, real, 10) - 1)).toBeLessThan(0.035);
  });

  it("tells what dirt takes", () => {
    const real = { ...roof, peakW: 0.9 * roof.peakW };
    expect(Math.abs(afternoon(mornings(real, 10), real, 10) - 1)).toBeLessThan(0.03);
  });

  it("is hardly moved by a tree in the east, every morning for half an hour", () => {
    const plane = mornings(roof, 10, (hour) => (hour > -4 && hour < -3.5 ? 0.2 : 1));
    expect(Math.abs(afternoon(plane, roof, 10) - 1)).toBeLessThan(0.05);
  });

  it("is surer where it was seen than where it was not, and surer than at first", () => {
    const plane = mornings(roof, 5);
    const seen = planeSpread(plane, fromAt(NOON_MS - 2 * HOUR_MS));
    const unseen = planeSpread(plane, fromAt(NOON_MS + 5 * HOUR_MS));
    expect(seen).toBeLessThan(0.5 * unseen);
    expect(unseen).toBeLessThan(planeSpread(FIRST, fromAt(NOON_MS + 5 * HOUR_MS)));
  });

  it("learns nothing from a sun so low, nor downwards from a dull hour", () => {
    const sample = { from: fromAt(NOON_MS), fraction: 0.5, powerFraction: 0.7, brightness: 1 };
    expect(learnPlane(FIRST, { ...sample, powerFraction: 0.09 })).toBe(FIRST);
    expect(learnPlane(FIRST, { ...sample, brightness: 0 })).toBe(FIRST);
    expect(learnPlane(FIRST, sample)).not.toBe(FIRST);
  });

  it("stays what a plane can be, whatever is measured", () => {
    const samples = fc.array(
      fc.record({
        hour: fc.double({ min: -7, max: 7, noNaN: true }),
        fraction: fc.double({ min: 0, max: 100, noNaN: true }),
        powerFraction: fc.double({ min: 0, max: 2, noNaN: true }),
        brightness: fc.double({ min: 0, max: 1, noNaN: true }),
      }),
      { maxLength: 400 },
    );
    const property = fc.property(samples, (list) => {
      let plane: SeenPlane = FIRST;
      for (const { hour, ...sample } of list) {
        const from = fromAt(NOON_MS + hour * HOUR_MS);
        plane = learnPlane(plane, { ...sample, from });
        const { eastEast, northNorth, upUp } = plane.doubt;
        for (const variance of [eastEast, northNorth, upUp]) {
          expect(variance).toBeGreaterThan(0);
          expect(variance).toBeLessThanOrEqual(0.0144 + 1e-12);
        }
        expect(planeSpread(plane, from)).toBeGreaterThan(0);
        expect(planeFraction(plane, from)).toBeLessThanOrEqual(3);
        expect(planeFraction(plane, from)).toBeGreaterThan(0);
      }
    });
    fc.assert(property, { numRuns: 60 });
  });
});
