/** The state as a schema: the same keys as `state-view.ts`, which a test holds together. */
import { z } from "zod";
import { loadSchema, siteVerdictSchema, verdictSchema } from "../../view-schemas.ts";
import type { RouteDocument } from "../route-document.ts";

const count = z.int().min(0);

const reading = {
  value: z.union([z.number(), z.boolean(), z.string()]).nullable(),
  quality: z.enum(["fresh", "frozen", "stale", "retained", "implausible", "waiting", "unmapped"]),
  ageS: z.number().nullable(),
};

const look = z.object({
  by: z.enum(["report", "meter", "inverter"]),
  result: z.enum(["pending", "seen", "not-seen", "unclear", "not-measured"]),
  afterS: z.number().nullable().meta({ description: "From the command to when it was seen [s]" }),
  stepW: z.number().nullable().meta({ description: "The step in power that was seen [W]" }),
});

export const switchTestSchema = z.object({
  id: z.string(),
  label: z.string(),
  phase: z.enum(["starting", "on", "off", "over"]),
  on: z.array(look).meta({ description: "What showed that it went on" }),
  off: z.array(look).meta({ description: "What showed that it went off" }),
  isProven: z.boolean(),
  outcome: z.string().nullable().meta({ description: "In words; null: under way" }),
});

const signalSchema = z.object({
  signal: z.string(),
  ...reading,
  unit: z.string().nullable(),
  advice: z
    .string()
    .nullable()
    .meta({ description: "What may be wrong with it; null: it can be used" }),
  ignoredCount: count,
  ignoredCounts: z
    .record(z.string(), count)
    .meta({ description: "of that, by reason; those that never came are left out" }),
  sensors: z
    .array(z.object({ isInUse: z.boolean(), topics: z.array(z.string()), ...reading }))
    .meta({ description: "in order of preference; one of them is in use" }),
  sensorChangeCount: count,
});

export const stateSchema = z.object({
  formatVersion: z.literal(1),
  version: z.string(),
  mode: z.enum(["active", "shadow"]),
  isTimeSimulated: z.boolean().meta({ description: "The time is that of a demo or a rig" }),
  at: z.iso.datetime(),
  site: z.object({ id: z.string(), label: z.string(), timeZone: z.string() }),
  isBrokerConnected: z.boolean(),
  brokerTroubles: z.array(z.string()).meta({ description: "What is wrong with the broker" }),
  verdict: siteVerdictSchema.nullable().meta({ description: "null before the first tick" }),
  loads: z.array(loadSchema),
  panels: z.array(verdictSchema),
  switchTest: switchTestSchema
    .nullable()
    .meta({ description: "A load switched while a person stands by, or the last one" }),
  signals: z.array(signalSchema),
  counters: z.object({
    tickCount: count,
    overrunCount: count,
    receivedCount: count,
    ignoredCounts: z.record(z.string(), count),
    commandCount: count,
    brokerLossCount: count,
    requestCounts: z.object({ accepted: count, retained: count, malformed: count }),
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
