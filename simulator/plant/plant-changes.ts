/**
 * A file of what is so in the shed and not in its settings: a controller that is tried on a plant
 * made of its own assumptions only meets itself.
 */
import { readFileSync } from "node:fs";
import { z } from "zod";
import { readDocument } from "../../config/document.ts";
import { quantity, quantityOptional, quantityOr } from "../../config/fields.ts";
import { errorAt } from "../../config/findings.ts";
import type { Finding } from "../../config/findings.ts";
import { nearestWord } from "../../config/suggestions.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { UserError } from "../../service/errors.ts";
import { unreadable } from "../days/text-blocks.ts";
import { plantSettings } from "./plant-settings.ts";
import type { PlantSettings } from "./plant-settings.ts";

const angle = (about: string, max: number) => quantity({ dimension: "angle", about, min: 0, max });

const horizonPart = z.strictObject({
  from: angle("clockwise from north", 360),
  to: angle("clockwise from north", 360),
  altitude: angle("below it the sun is hidden", 90),
});

const array = z.strictObject({
  peak: quantityOptional({ dimension: "power", about: "real power", min: 1, max: 1e6 }),
  tilt: quantityOptional({ dimension: "angle", about: "real tilt", min: 0, max: 90 }),
  azimuth: quantityOptional({ dimension: "angle", about: "real azimuth", min: 0, max: 360 }),
});

const changesSchema = z.strictObject({
  version: z.literal(1, { error: "1" }),
  haze: quantityOr("0 %", { dimension: "fraction", about: "of direct light", min: 0, max: 1 }),
  horizon: z.array(horizonPart).default([]),
  arrays: z.record(z.string(), array).default({}),
});

export type PlantChanges = z.infer<typeof changesSchema>;

/** @throws UserError with every problem of the file, in its order. */
export function readPlantChanges(path: string): PlantChanges {
  let text: string;
  try {
    text = readFileSync(path, "utf8");
  } catch (error) {
    throw unreadable(path, error);
  }
  const document = readDocument({ text, fileName: path, overrides: [] });
  const result = changesSchema.safeParse(document.raw);
  if (result.success) return result.data;
  throw new UserError(document.problemsOf(result.error.issues.flatMap(findingsOf)));
}

const KEYS = ["version", "haze", "horizon", "arrays", "from", "to", "altitude", "peak", "tilt"];

function findingsOf(issue: z.core.$ZodIssue): readonly Finding[] {
  const path = issue.path.map((segment) => (typeof segment === "symbol" ? "?" : segment));
  if (issue.code !== "unrecognized_keys") {
    return [errorAt(path, "plant-value", { expected: issue.message })];
  }
  return issue.keys.map((key) => {
    const near = nearestWord(key, KEYS);
    const suggestion = near === undefined ? {} : { suggestion: `did you mean ${near}?` };
    const expected = "a key of the plant file: version, haze, horizon, arrays";
    return errorAt([...path, key], "unknown-key", { expected, ...suggestion, isAboutKey: true });
  });
}

/** The shed of a site's settings, changed; null: as they say. */
export function plantOf(site: SiteSettings, changes: PlantChanges | null): PlantSettings {
  const plant = plantSettings(site);
  return changes === null ? plant : changedPlant(plant, changes);
}

/** @throws UserError if an array is changed that the site does not have. */
function changedPlant(plant: PlantSettings, changes: PlantChanges): PlantSettings {
  const known = plant.arrays.map(({ id }) => id);
  const stranger = Object.keys(changes.arrays).find((id) => !known.includes(id));
  if (stranger !== undefined) {
    const expected = `an array of the site: ${known.join(", ")}`;
    throw new UserError([
      { code: "plant-array", where: "plant", key: `arrays.${stranger}`, expected },
    ]);
  }
  return {
    ...plant,
    obstruction: {
      hazeFraction: changes.haze,
      horizon: changes.horizon.map(({ from, to, altitude }) => ({
        fromDeg: from,
        toDeg: to,
        altitudeDeg: altitude,
      })),
    },
    arrays: plant.arrays.map((one) => {
      const { peak, tilt, azimuth } = changes.arrays[one.id] ?? {};
      return {
        ...one,
        peakW: peak ?? one.peakW,
        tiltDeg: tilt ?? one.tiltDeg,
        azimuthDeg: azimuth ?? one.azimuthDeg,
      };
    }),
  };
}
