import { z } from "zod";

const outcome = z.strictObject({ code: z.string(), stage: z.number() });
const numbers = { measured: z.number().nullable(), limit: z.number().nullable() };

/** What `replay --journal DAY --json` prints. */
export const journalSchema = z.strictObject({
  day: z.string().describe("local date"),
  isSame: z.boolean().describe("every decision came out again, and there was at least one"),
  tickCount: z.int().min(0).describe("decided again, up to and with the first that differs"),
  runningCount: z.int().min(0).describe("of which so many had a load on"),
  stretches: z.array(
    z.strictObject({ wallMs: z.number(), codeVersion: z.string(), settingsHash: z.string() }),
  ),
  gaps: z.array(z.strictObject({ fromWallMs: z.number(), toWallMs: z.number() })),
  damages: z.array(
    z.strictObject({
      kind: z.literal("damage"),
      path: z.string(),
      atByte: z.int().min(0),
      reason: z.enum(["not-whole", "other-version"]),
    }),
  ),
  difference: z
    .strictObject({
      wallMs: z.number(),
      localMinute: z.int().min(0).max(1439),
      about: z.enum(["load", "panel", "figures", "failure"]),
      id: z.string().nullable(),
      recorded: outcome.nullable(),
      reproduced: outcome.nullable(),
      verdicts: z.array(z.looseObject({ code: z.string(), stage: z.number(), ...numbers })),
      site: z.looseObject({}).nullable().describe("figures of the site beside the verdicts"),
      message: z.string().nullable().describe("why it could not be decided"),
    })
    .nullable()
    .describe("the first; null if every decision is the same"),
});

export function journalJsonSchema(): Readonly<Record<string, unknown>> {
  return z.toJSONSchema(journalSchema, { target: "draft-2020-12" });
}
