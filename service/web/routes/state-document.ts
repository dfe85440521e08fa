/** The state as a schema: the same keys as `state-view.ts`, which a test holds together. */
import { z } from "zod";
import { SITE_CODES } from "../../control/site-codes.ts";
import { VERDICT_CODES } from "../../control/verdict-codes.ts";
import type { RouteDocument } from "../route-document.ts";

const severitySchema = z.enum(["info", "warning", "alarm"]);
const figuresSchema = z
  .record(z.string(), z.number())
  .meta({ description: "The numbers behind it, with the unit in the key" });
const fraction = (about: string) => z.number().nullable().meta({ description: about });
const powerW = (about: string) =>
  z
    .number()
    .nullable()
    .meta({ description: `${about} [W]` });
const count = z.int().min(0);

/** A code out of a dictionary; the document lists them all. */
const codeOf = (...dictionaries: readonly object[]) =>
  z.string().meta({ enum: dictionaries.flatMap((dictionary) => Object.keys(dictionary)) });

const verdictSchema = z.object({
  id: z.string(),
  label: z.string(),
  code: codeOf(VERDICT_CODES),
  severity: severitySchema,
  stage: z.number().min(0).meta({ description: "Decided stage; 0: off" }),
  sentence: z.string().meta({ description: "Why, for a person" }),
  figures: figuresSchema,
  remainingS: z.number().nullable(),
});

const findingSchema = z.object({
  code: codeOf(SITE_CODES),
  severity: severitySchema,
  sentence: z.string(),
  figures: figuresSchema,
});

const siteVerdictSchema = z.object({
  socSource: z.enum(["monitor", "count", "voltage", "none"]),
  socFraction: fraction("State of charge"),
  chargeStage: z.enum(["bulk", "absorption", "float", "equalise"]).nullable(),
  ruleCurveFraction: z.number(),
  bandFraction: fraction("State of charge less the rule curve"),
  batteryPowerW: powerW("Positive: charging"),
  sourcesPowerW: z.number(),
  basePowerW: powerW("Essential use"),
  claimW: z.number(),
  availableW: powerW("For a further load"),
  lendableWh: z.number(),
  inverterHeadroomW: powerW("Rating less present output"),
  isDaylight: z.boolean().nullable(),
  isCurtailed: z.boolean(),
  restVoltageV: z.number().nullable(),
  isFullChargeDue: z.boolean(),
  sentence: z.string(),
  findings: z.array(findingSchema),
});

const signalSchema = z.object({
  signal: z.string(),
  value: z.union([z.number(), z.boolean(), z.string()]).nullable(),
  unit: z.string().nullable(),
  quality: z.enum(["fresh", "stale", "implausible", "waiting", "retained", "unmapped"]),
  ageS: z.number().nullable(),
  ignoredCount: count,
});

export const stateSchema = z.object({
  formatVersion: z.literal(1),
  version: z.string(),
  mode: z.enum(["active", "shadow"]),
  at: z.iso.datetime(),
  site: z.object({ id: z.string(), label: z.string(), timeZone: z.string() }),
  isBrokerConnected: z.boolean(),
  brokerTroubles: z.array(z.string()),
  verdict: siteVerdictSchema.nullable().meta({ description: "null before the first tick" }),
  loads: z.array(verdictSchema),
  panels: z.array(verdictSchema),
  signals: z.array(signalSchema),
  counters: z.object({
    tickCount: count,
    overrunCount: count,
    receivedCount: count,
    ignoredCounts: z.record(z.string(), count),
    commandCount: count,
    brokerLossCount: count,
  }),
});

export const STATE_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "GET",
    path: "/api/state",
    summary: "The whole state of the site",
    answer: {
      status: 200,
      description: "Decisions with their reasons, signals with their quality, counters",
      mediaType: "application/json",
      schema: { name: "State", schema: stateSchema },
    },
    problems: [],
    security: "reading",
  },
];
