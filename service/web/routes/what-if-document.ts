/** What a replayed day answers, as schemas: the same keys as `what-if-contract.ts`. */
import { z } from "zod";
import type { RouteDocument } from "../route-document.ts";
import { whatIfSchema } from "./what-if.ts";

const numbers = z.array(z.number());
const fraction = z.number().min(0).max(1);
const starts = z.int().min(0);

const replayedSchema = z.object({
  minutes: z.array(z.int()).meta({ description: "after `from`, one for each value" }),
  sourcesPowerW: numbers,
  potentialW: numbers,
  basePowerW: numbers,
  socFraction: numbers,
  ruleCurveFraction: numbers,
  loads: z.record(z.string(), z.object({ label: z.string(), powerW: numbers })),
  figures: z.object({
    divertedWh: z.number(),
    curtailedWh: z.number(),
    potentialWh: z.number(),
    unservedWh: z.number(),
    reserveDrawnWh: z.number(),
    starts,
    lowestSocFraction: fraction,
    endSocFraction: fraction,
  }),
  energies: z.record(z.string(), z.object({ energyWh: z.number(), starts })),
});

const guesses = z
  .object({ low: z.number(), likely: z.number(), high: z.number() })
  .meta({ description: "by how much was hidden while the arrays were held back" });

const viewSchema = z.object({
  formatVersion: z.literal(1),
  id: z.string(),
  state: z.enum(["running", "done", "refused", "failed", "cancelled"]),
  progress: z.object({
    stage: z.enum(["reading", "inferring", "replaying"]),
    share: fraction,
  }),
  problems: z.array(z.string()),
  result: z
    .object({
      date: z.iso.date(),
      from: z.iso.datetime(),
      to: z.iso.datetime(),
      changes: z.array(z.object({ key: z.string(), value: z.string() })),
      asSet: replayedSchema.meta({ description: "the settings as they are, replayed" }),
      changed: replayedSchema,
      more: z
        .object({ divertedWh: guesses, curtailedWh: guesses })
        .meta({ description: "`changed` less `asSet`" }),
      reconstructedFraction: fraction,
      notes: z.array(z.string()),
    })
    .nullable(),
});

const view = { name: "WhatIf", schema: viewSchema };
const writing = ["token-needed", "cross-site", "csrf-missing"] as const;
const asItIs = {
  status: 200,
  description: "How far it has come, or what came of it",
  mediaType: "application/json",
  schema: view,
} as const;

export const WHAT_IF_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "POST",
    path: "/api/days/{date}/what-if",
    summary: "Replay a recorded day with other settings; nothing is changed",
    body: { name: "WhatIfChange", schema: whatIfSchema },
    answer: { ...asItIs, status: 202, description: "Begun: ask for it by its id" },
    problems: [...writing, "no-replay", "replay-busy"],
    security: "writing",
  },
  {
    method: "GET",
    path: "/api/what-if/{id}",
    summary: "A replay that was begun; needs the right to write",
    answer: asItIs,
    problems: ["token-needed", "unknown-id"],
    security: "writing",
  },
  {
    method: "POST",
    path: "/api/what-if/{id}/cancel",
    summary: "End a replay; one that is over stays as it is",
    answer: asItIs,
    problems: [...writing, "unknown-id"],
    security: "writing",
  },
  {
    method: "GET",
    path: "/api/days/{date}/file",
    summary: "One local day as a day file that `bywash replay` reads",
    query: {},
    answer: {
      status: 200,
      description: "CSV; where the site is stands in none of it",
      mediaType: "text/csv",
      schema: { name: "DayFile", schema: z.string() },
    },
    problems: ["no-replay", "replay-busy", "unknown-id", "no-history"],
    security: "reading",
  },
];
