import { expect, test } from "vitest";
import { incidenceCosine } from "../../service/solar/incidence.ts";

/** pvlib test_irradiance.py: tilt, azimuth, zenith, sun azimuth, expected angle and its cosine. */
const PVLIB = [
  [0, 0, 0, 0, 0, 1],
  [30, 180, 30, 180, 0, 1],
  [30, 180, 150, 0, 180, -1],
  [90, 0, 30, 60, 75.5224878, 0.25],
  [90, 0, 30, 170, 119.4987042, -0.4924038],
] as const;

test("pvlib test_irradiance.py: angle of incidence, five rows", () => {
  let compared = 0;
  for (const [tiltDeg, azimuthDeg, zenithDeg, sunAzimuthDeg, angle, cosine] of PVLIB) {
    const found = incidenceCosine({ tiltDeg, azimuthDeg, zenithDeg, sunAzimuthDeg });
    expect(found).toBeCloseTo(cosine, 6);
    expect((Math.acos(found) * 180) / Math.PI).toBeCloseTo(angle, 5);
    compared += 1;
  }
  expect(compared).toBe(5);
});

/**
 * Latitude 43°, 13 February (n 44, declination −13.946° by Cooper's formula), 10:30 solar time.
 * The book counts azimuths from south, west positive, and prints whole degrees (35°, cosine 0.817).
 */
test("Duffie & Beckman, example 1.6.1: cosine 0.817 on a plane of 45° turned 15° west", () => {
  const rad = Math.PI / 180;
  const [latitude, declination, hour] = [43 * rad, -13.946 * rad, -22.5 * rad];
  const zenith = Math.acos(
    Math.sin(latitude) * Math.sin(declination) +
      Math.cos(latitude) * Math.cos(declination) * Math.cos(hour),
  );
  const fromSouth = Math.asin((Math.cos(declination) * Math.sin(hour)) / Math.sin(zenith));
  const cosine = incidenceCosine({
    tiltDeg: 45,
    azimuthDeg: 180 + 15,
    zenithDeg: zenith / rad,
    sunAzimuthDeg: 180 + fromSouth / rad,
  });
  expect(Math.abs(cosine - 0.817)).toBeLessThan(0.002);
});
