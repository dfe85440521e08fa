/** Schema of the loads, kind by kind. */
import { z } from "zod";
import { quantity } from "./fields.ts";
import { commonFields, ratedFields } from "./schema-load-fields.ts";
import { contactSchema, stageCommandSchema } from "./schema-signals.ts";
import { stageReportSchema, switchCommandSchema } from "./schema-signals.ts";

const stageW = (about: string) => quantity({ dimension: "power", about, min: 1, max: 200_000 });

export const switchedLoadSchema = z
  .strictObject({
    kind: z.literal("switched").meta({ description: "On or off" }),
    ...commonFields,
    ...ratedFields,
    power: stageW("Rated AC power"),
    command: switchCommandSchema,
    report: contactSchema.optional().meta({ description: "Position that it reports" }),
  })
  .meta({ description: "A load that is on or off" });

export const stagedLoadSchema = z
  .strictObject({
    kind: z.literal("staged").meta({ description: "Off or one of several powers" }),
    ...commonFields,
    ...ratedFields,
    stages: z.array(stageW("Rated AC power of the stage")).min(1).max(20).meta({
      description: "Rated AC power of each stage, rising; off is not listed",
      audience: "basic",
    }),
    command: stageCommandSchema,
    report: stageReportSchema.optional().meta({ description: "Stage that it reports" }),
  })
  .meta({ description: "A load with several powers" });

export const loadSchema = z
  .discriminatedUnion("kind", [switchedLoadSchema, stagedLoadSchema])
  .meta({ description: "An opportunity load: it only runs on surplus" });
