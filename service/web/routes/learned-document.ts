/** The same keys as `learned-view.ts`, which a test holds together. */
import { z } from "zod";
import type { RouteDocument } from "../route-document.ts";

const fraction = z.number();

export const learnedSchema = z.object({
  formatVersion: z.literal(1),
  at: z.iso.datetime().nullable().meta({ description: "null: nothing was decided yet" }),
  site: z.object({ id: z.string(), label: z.string() }),
  arrays: z.array(
    z.object({
      id: z.string(),
      generalFraction: fraction.meta({
        description: "Where the sun was not seen yet, of a clean array that stands as follows",
      }),
      seenTiltDeg: z.number().meta({ description: "From what it gave; at first the settings'" }),
      seenAzimuthDeg: z.number().meta({ description: "Clockwise from north, likewise" }),
      cells: z.array(
        z.object({
          azimuthDeg: z.number().meta({ description: "From here on for 10 degrees" }),
          altitudeDeg: z.number().meta({ description: "From here on for 5 degrees" }),
          fraction: fraction.meta({
            description: "Measured over the model of a clean array under a clear sky",
          }),
        }),
      ),
    }),
  ),
  baseLoad: z.object({
    isKnown: z.boolean().meta({ description: "Every hour was seen often enough" }),
    hours: z.array(
      z.object({
        hour: z.int(),
        meanW: z.number(),
        spreadW: z.number(),
        seenDays: z.int(),
      }),
    ),
  }),
  sky: z.object({
    clearnessFraction: fraction.nullable(),
    sensorFactor: fraction.nullable().meta({
      description: "Clearness by the arrays over that by the irradiance sensor; null: not seen",
    }),
    sensorShortfall: fraction.nullable().meta({
      description: "By how much the arrays fall short of that on the mean; null: not seen",
    }),
    days: z.array(
      z.object({
        date: z.iso.date(),
        clearnessFractions: z
          .array(fraction.nullable())
          .meta({ description: "By twelfths from sunrise to sunset; null: not known" }),
      }),
    ),
  }),
  forecast: z
    .object({
      days: z.int().meta({ description: "On record with what was said and what came" }),
      explainedFraction: fraction.nullable().meta({
        description: "Share of the differences between days; null: too few days",
      }),
      beliefFraction: fraction.meta({ description: "What a forecast counts for now" }),
    })
    .meta({ description: "What forecasts were worth at this site" }),
  battery: z.object({
    lossFactor: z.number().nullable().meta({
      description: "Charge lost towards full over what the settings say; null: lithium, or not yet",
    }),
  }),
  loads: z.array(
    z.object({
      id: z.string(),
      label: z.string(),
      stages: z.array(
        z.object({
          ratedW: z.number(),
          learnedW: z.number().nullable().meta({ description: "null: not seen yet" }),
          isFarFromRated: z.boolean().meta({ description: "By more than a fifth of the rating" }),
        }),
      ),
    }),
  ),
});

const requestedSchema = z.object({ status: z.literal("requested"), what: z.string() });

export const LEARNED_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "GET",
    path: "/api/learned",
    summary: "What the service has learned of arrays, everyday use, sky and loads",
    answer: {
      status: 200,
      description: "As it was after the last tick",
      mediaType: "application/json",
      schema: { name: "Learned", schema: learnedSchema },
    },
    problems: [],
    security: "reading",
  },
  {
    method: "POST",
    path: "/api/learned/{what}/reset",
    summary: "Have something learned forgotten: base, sky, battery, array.<id> or load.<id>",
    answer: {
      status: 202,
      description: "The next tick forgets it",
      mediaType: "application/json",
      schema: { name: "ResetRequested", schema: requestedSchema },
    },
    problems: ["token-needed", "cross-site", "csrf-missing", "unknown-id"],
    security: "writing",
  },
];
