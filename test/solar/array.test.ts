import { describe, expect, it } from "vitest";
import { arrayPotentialW } from "../../service/solar/array.ts";
import type { ArrayWeather } from "../../service/solar/array.ts";
import { planeIrradiance } from "../../service/solar/transposition.ts";

const array = { peakW: 5000, tiltDeg: 40, azimuthDeg: 180 };
/** Sun high in the south, half of the light diffuse. */
const noon: ArrayWeather = {
  sun: { azimuthDeg: 180, altitudeDeg: 50 },
  sky: { globalWm2: 700, beamNormalWm2: 600, diffuseWm2: 240 },
  extraterrestrialWm2: 1360,
  airTemperatureC: 15,
  windMS: 2,
  albedoFraction: 0.2,
};
const night = { globalWm2: 0, beamNormalWm2: 0, diffuseWm2: 0 };
const overcast = { globalWm2: 200, beamNormalWm2: 0, diffuseWm2: 200 };

describe("light on a plane", () => {
  const base = { zenithCosine: 0.766, sky: noon.sky, extraterrestrialWm2: 1360 };

  it("that lies flat is the beam's vertical part and all of the sky, and no ground", () => {
    const flat = planeIrradiance({
      ...base,
      tiltDeg: 0,
      incidenceCosine: 0.766,
      albedoFraction: 0.2,
    });
    expect(flat.groundWm2).toBe(0);
    expect(flat.directWm2 + flat.skyWm2).toBeCloseTo(600 * 0.766 + 240, 9);
  });

  it("that has the sun behind it gets sky and ground alone", () => {
    const behind = planeIrradiance({
      ...base,
      tiltDeg: 90,
      incidenceCosine: -0.4,
      albedoFraction: 0.2,
    });
    expect(behind.directWm2).toBe(0);
    // Upright: half of the ground is seen, and half of the sky without its bright ring.
    expect(behind.groundWm2).toBeCloseTo((700 * 0.2) / 2, 9);
    expect(behind.skyWm2).toBeCloseTo((240 / 2) * (1 - 600 / 1360), 9);
  });
});

describe("what an array could give", () => {
  it("is nothing without light", () => {
    expect(arrayPotentialW(array, { ...noon, sky: night })).toBe(0);
  });

  it("is in proportion to its size", () => {
    const twice = arrayPotentialW({ ...array, peakW: 10_000 }, noon);
    expect(twice).toBeCloseTo(2 * arrayPotentialW(array, noon), 9);
  });

  it("at right angles to 1000 W/m² of beam with cells at 25 °C is its peak power", () => {
    const weather: ArrayWeather = {
      ...noon,
      sun: { azimuthDeg: 180, altitudeDeg: 50 },
      sky: { globalWm2: 770, beamNormalWm2: 1000, diffuseWm2: 0 },
      airTemperatureC: 25 - 1000 / (25 + 6.84 * 2),
      albedoFraction: 0,
    };
    // No diffuse light and no slant: standard test conditions.
    expect(arrayPotentialW(array, weather)).toBeCloseTo(5000, 6);
  });

  it.each<[string, Partial<ArrayWeather>]>([
    ["hot air", { airTemperatureC: 35 }],
    ["still air", { windMS: 0 }],
    ["a sun from the side", { sun: { azimuthDeg: 260, altitudeDeg: 50 } }],
    ["an overcast sky", { sky: overcast }],
    ["dark ground", { albedoFraction: 0 }],
  ])("is less with %s", (_name, change) => {
    expect(arrayPotentialW(array, { ...noon, ...change })).toBeLessThan(
      arrayPotentialW(array, noon),
    );
  });

  it("does not depend on where the array faces under a sky without sun", () => {
    const weather = { ...noon, sky: overcast };
    const south = arrayPotentialW(array, weather);
    expect(arrayPotentialW({ ...array, azimuthDeg: 0 }, weather)).toBeCloseTo(south, 9);
    expect(south).toBeGreaterThan(0);
  });
});
