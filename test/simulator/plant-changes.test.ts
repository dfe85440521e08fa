import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, expect, test } from "vitest";
import { plantOf, readPlantChanges } from "../../simulator/plant/plant-changes.ts";
import { obstructedSky } from "../../simulator/weather/obstructed-sky.ts";
import { simulatedSite } from "./simulated-site.ts";

let folder: string;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-plant-"));
});
afterEach(() => rmSync(folder, { recursive: true }));

function read(text: string): ReturnType<typeof readPlantChanges> {
  const path = join(folder, "plant.yaml");
  writeFileSync(path, text);
  return readPlantChanges(path);
}

const sky = { globalWm2: 700, beamNormalWm2: 1000, diffuseWm2: 200 };
const sun = { azimuthDeg: 90, altitudeDeg: 30 };

test("the evidence's plant differs from its settings in tilt, haze and horizon", () => {
  const changes = readPlantChanges(
    new URL("../evidence/malga-plant.yaml", import.meta.url).pathname,
  );
  const site = simulatedSite();
  const plant = plantOf(site, changes);
  expect(plant.arrays[0]).toMatchObject({ id: "roof", tiltDeg: 31, azimuthDeg: 190 });
  expect(plantOf(site, null).arrays[0]?.tiltDeg).not.toBe(31);
  expect(plant.obstruction.hazeFraction).toBe(0.06);
  expect(plant.obstruction.horizon[0]).toEqual({ fromDeg: 60, toDeg: 120, altitudeDeg: 10 });
});

test("haze takes from the beam, and half of that comes back from the sky: worked at 30°", () => {
  const seen = obstructedSky(sky, sun, { hazeFraction: 0.1, horizon: [] });
  expect(seen.beamNormalWm2).toBeCloseTo(900, 9);
  expect(seen.diffuseWm2).toBeCloseTo(225, 9);
  expect(seen.globalWm2).toBeCloseTo(675, 9);
});

test.each([
  ["a ridge that is higher than the sun", 30.1, { fromDeg: 60, toDeg: 120 }, 0],
  ["a ridge that is lower", 29.9, { fromDeg: 60, toDeg: 120 }, 1000],
  ["one that stands elsewhere", 40, { fromDeg: 100, toDeg: 120 }, 1000],
  ["one across north to the east", 40, { fromDeg: 300, toDeg: 95 }, 0],
])("%s", (_, altitudeDeg, span, beamNormalWm2) => {
  const seen = obstructedSky(sky, sun, { hazeFraction: 0, horizon: [{ ...span, altitudeDeg }] });
  expect(seen.beamNormalWm2).toBe(beamNormalWm2);
  expect(seen.globalWm2).toBeCloseTo(beamNormalWm2 === 0 ? 200 : 700, 9);
});

test.each([
  ["version: 1\nhase: 3 %", /unknown-key.*\n.*hase/u, /did you mean haze/u],
  ["version: 1\nhaze: 3", /plant\.yaml:2:7/u, /%/u],
  [
    "version: 1\narrays:\n  roof: { tilt: 100 deg }",
    /plant\.yaml:3:17/u,
    /arrays\.roof\.tilt[\s\S]*0° to 90°/u,
  ],
])("a mistake is said with its place: %j", (text, first, second) => {
  expect(() => read(text)).toThrow(first);
  expect(() => read(text)).toThrow(second);
});

test("an array that the site does not have is refused", () => {
  const changes = read("version: 1\narrays:\n  barn: { tilt: 10 deg }");
  expect(() => plantOf(simulatedSite(), changes)).toThrow(/arrays\.barn[\s\S]*roof/u);
});
