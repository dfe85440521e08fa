import { describe, expect, it } from "vitest";
import { arrayPotentialW, planeNormal } from "../../service/solar/array.ts";
import { modelPowerW, nearPowerFrom, nearSun } from "../../service/solar/array-model.ts";
import { extraterrestrialWm2, meanDayOfYear } from "../../service/solar/extraterrestrial.ts";
import { sunPosition } from "../../service/solar/sun.ts";
import { cloudedSky } from "../../simulator/weather/clouded-sky.ts";

const MALGA = { latitudeDeg: 46, longitudeDeg: 11.6, elevationM: 1480 };
const TASMANIA = { latitudeDeg: -42.1, longitudeDeg: 146.4, elevationM: 640 };
const south = { peakW: 5000, tiltDeg: 40, azimuthDeg: 180 };
const north = { peakW: 5000, tiltDeg: 40, azimuthDeg: 0 };
const NOON_MS = Date.parse("2026-06-21T11:15:00Z");
const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

describe("the clear-sky model of an array", () => {
  it("gives nothing at night and most of the peak near noon in June", () => {
    expect(modelPowerW(south, MALGA, NOON_MS - 12 * 3_600_000)).toBe(0);
    expect(modelPowerW(south, MALGA, NOON_MS)).toBeGreaterThan(4000);
    expect(modelPowerW(south, MALGA, NOON_MS)).toBeLessThan(5500);
  });

  it("has the sun in the north in the south", () => {
    const noonMs = NOON_MS - 9 * 3_600_000;
    expect(modelPowerW(north, TASMANIA, noonMs)).toBeGreaterThan(
      1.5 * modelPowerW(south, TASMANIA, noonMs),
    );
  });

  it("runs smoothly through the grid, and through the end of the solar day", () => {
    for (const place of [MALGA, TASMANIA]) {
      for (let minute = 0; minute < 1440; minute += 1) {
        const atMs = NOON_MS + minute * MINUTE_MS;
        const stepW = modelPowerW(south, place, atMs + MINUTE_MS) - modelPowerW(south, place, atMs);
        expect(Math.abs(stepW)).toBeLessThan(40);
      }
    }
  });

  it("fades to nothing at sunset, and does not stay and then break off", () => {
    const west = { peakW: 5000, tiltDeg: 90, azimuthDeg: 270 };
    let minute = 0;
    while (modelPowerW(west, MALGA, NOON_MS + minute * MINUTE_MS) > 0) minute += 1;
    expect(minute).toBeGreaterThan(6 * 60);
    for (let back = 1; back < 30; back += 1) {
      const atMs = NOON_MS + (minute - back) * MINUTE_MS;
      const nextW = modelPowerW(west, MALGA, atMs + MINUTE_MS);
      expect(modelPowerW(west, MALGA, atMs)).toBeGreaterThan(nextW);
    }
  });

  it("says the same whatever days were asked for between", () => {
    const before = modelPowerW(south, MALGA, NOON_MS);
    for (let day = -3; day < 9; day += 1) modelPowerW(south, MALGA, NOON_MS + day * DAY_MS);
    modelPowerW(south, TASMANIA, NOON_MS);
    expect(modelPowerW(south, MALGA, NOON_MS)).toBe(before);
    expect(modelPowerW(south, MALGA, -NOON_MS)).toBeGreaterThanOrEqual(0);
  });

  it("knows the season, though the days it keeps are few", () => {
    const juneW = modelPowerW(south, MALGA, NOON_MS);
    // Four days apart, and half a year: both fall on the place that the first was kept in.
    expect(modelPowerW(south, MALGA, NOON_MS + 184 * DAY_MS)).toBeLessThan(0.85 * juneW);
    expect(modelPowerW(south, MALGA, NOON_MS + 4 * DAY_MS)).not.toBe(juneW);
  });

  it("is as warm in December in the south as in June in the north", () => {
    const level = { peakW: 5000, tiltDeg: 0, azimuthDeg: 180 };
    const noonOf = (latitudeDeg: number, day: string) => {
      const noonMs = Date.parse(`${day}T12:00:00Z`);
      const place = { latitudeDeg, longitudeDeg: 0, elevationM: 640 };
      return modelPowerW(level, place, noonMs) / extraterrestrialWm2(meanDayOfYear(noonMs));
    };
    // Equally high sun: 16 K of error in the air would move the power by 6 %.
    const ratio = noonOf(-42.1, "2026-12-21") / noonOf(42.1, "2026-06-21");
    expect(Math.abs(ratio - 1)).toBeLessThan(0.02);
  });

  it("has the sun below the horizon at night, and where it is by day", () => {
    expect(nearSun(MALGA, NOON_MS - 12 * 3_600_000).altitudeDeg).toBeLessThan(0);
    const sun = sunPosition(NOON_MS, MALGA.latitudeDeg, MALGA.longitudeDeg);
    const near = nearSun(MALGA, NOON_MS);
    expect(Math.abs(near.altitudeDeg - sun.altitudeDeg)).toBeLessThan(0.5);
    expect(Math.abs(near.azimuthDeg - sun.azimuthDeg)).toBeLessThan(4);
  });

  it("says where its power comes from: times the plane's own normal that is all of it", () => {
    for (let hour = -12; hour < 12; hour += 1) {
      const from = nearPowerFrom(south, MALGA, NOON_MS + hour * 3_600_000);
      const { east, north, up } = planeNormal(south);
      expect(from.east * east + from.north * north + from.up * up).toBeCloseTo(1, 9);
    }
  });

  it("says by it what a plane gives that stands nearly alike", () => {
    const turned = { ...south, azimuthDeg: 190 };
    const { east, north, up } = planeNormal(turned);
    for (let hour = -4; hour <= 4; hour += 1) {
      const atMs = NOON_MS + hour * 3_600_000;
      const from = nearPowerFrom(south, MALGA, atMs);
      const told = from.east * east + from.north * north + from.up * up;
      const real = modelPowerW(turned, MALGA, atMs) / modelPowerW(south, MALGA, atMs);
      expect(Math.abs(told - real)).toBeLessThan(0.02);
    }
  });

  it("differs from the simulated shed's sky, but by little", () => {
    const { altitudeDeg, azimuthDeg } = sunPosition(NOON_MS, 46, 11.6);
    const shedW = arrayPotentialW(south, {
      sun: { altitudeDeg, azimuthDeg },
      sky: cloudedSky(MALGA, NOON_MS, 1),
      extraterrestrialWm2: 1325,
      airTemperatureC: 15,
      windMS: 1,
      albedoFraction: 0.25,
    });
    const ratio = modelPowerW(south, MALGA, NOON_MS) / shedW;
    expect(ratio).not.toBe(1);
    expect(Math.abs(ratio - 1)).toBeLessThan(0.1);
  });
});
