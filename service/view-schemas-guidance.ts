/** What `guidance-view.ts` makes, as schemas; HTTP and MQTT describe it by these. */
import { z } from "zod";
import {
  ADVICE_CODES,
  CONFIDENCE_CODES,
  REFUSAL_CODES,
} from "./control/guidance/guidance-codes.ts";
import { codeOf } from "./view-schemas.ts";

const instant = (about: string) =>
  z.iso.datetime().meta({ description: `${about}; RFC 3339, UTC` });
const localClock = z.string().meta({ description: "By the site's clock, such as 11:40" });
const sentence = z.string().meta({ description: "For a person" });
const gradeSchema = z.enum(["good", "so-so", "costly", "closed"]).meta({
  description:
    "good: on the cautious side the battery stays above the rule curve, and most comes straight " +
    "from the sources; so-so: one of the two fails; costly: even the middle of what is expected " +
    "falls below the curve; closed: outside its hours, or more than the inverter carries",
});

const confidenceSchema = z
  .object({
    code: codeOf(CONFIDENCE_CODES),
    level: z.enum(["high", "fair", "low"]),
    before: z
      .object({ saidDays: z.number(), trueDays: z.number() })
      .nullable()
      .meta({
        description:
          "Days on which such times were said before, the older ones counting less, and on how " +
          "many of them they came true; null: too few to tell",
      }),
    sentence,
  })
  .nullable();

const costSchema = z.object({
  grade: gradeSchema,
  missingFraction: z.number().meta({
    description: "Most that would be missing below the rule curve before the next sunset",
  }),
  cautiousMissingFraction: z.number(),
  sunFraction: z.number().meta({ description: "Straight from the sources" }),
  takenWh: z.number().meta({ description: "What opportunity loads would have had of it" }),
  sentence,
});

const daySchema = z.object({
  date: z.iso.date(),
  stretches: z.array(
    z.object({
      from: instant("First start"),
      to: instant("Not included"),
      fromLocal: localClock,
      toLocal: localClock,
      grade: gradeSchema,
    }),
  ),
  best: z
    .object({
      at: instant("Start"),
      local: localClock,
      confidence: confidenceSchema,
      cost: costSchema,
    })
    .nullable()
    .meta({ description: "null: no start on that day is good" }),
});

export const guidanceSchema = z.object({
  formatVersion: z.literal(1),
  at: instant("When it was worked out"),
  site: z.object({ id: z.string(), label: z.string() }),
  refusal: z
    .object({ code: codeOf(REFUSAL_CODES), sentence })
    .nullable()
    .meta({ description: "Why there is no advice; null: there is" }),
  recordDays: z.number().meta({ description: "Days of sky on record" }),
  isCurveFixed: z.boolean(),
  appliances: z.array(
    z.object({
      id: z.string(),
      label: z.string(),
      energyWh: z.number(),
      powerMaxW: z.number(),
      runS: z.number(),
      code: codeOf(ADVICE_CODES),
      sentence,
      at: instant("Start that the sentence points to").nullable(),
      confidence: confidenceSchema,
      now: costSchema.meta({ description: "Were it started now" }),
      days: z.array(daySchema),
    }),
  ),
});
