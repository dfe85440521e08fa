/** What `bywash report --json` prints. Only keys are ever added to it. */
import { z } from "zod";

const date = z.iso.date().meta({ description: "Local date" });
const instant = z.iso.datetime().meta({ description: "RFC 3339, UTC" });
const energy = (about: string) => z.number().meta({ description: `${about} [Wh]` });
const fraction = (about: string) =>
  z
    .number()
    .nullable()
    .meta({ description: `${about} [1] 0…1; null: not known` });
const unknownWh = (about: string) =>
  z
    .number()
    .nullable()
    .meta({ description: `${about} [Wh]; null: not known` });

const figures = {
  coveredFraction: z.number().meta({ description: "Share of the minutes that was recorded" }),
  potentialWh: unknownWh("What the sources could have given, by the service's own estimate"),
  usedWh: energy("What the sources gave"),
  thrownAwayWh: unknownWh("What they could have given besides"),
  divertedWh: energy("AC energy that opportunity loads took"),
  askedWh: energy("Of that, because a person or a load's own deadline wanted it so"),
  everydayWh: energy("AC energy of all other use"),
  reserveDrawnWh: energy("What loads drew from the battery while it was under the rule curve"),
  generatorWh: energy("What a generator gave"),
  starts: z.number(),
  loads: z.record(z.string(), z.strictObject({ energyWh: z.number(), starts: z.number() })),
};

const day = z.strictObject({
  date,
  isOver: z.boolean(),
  lowestSocFraction: fraction("Lowest charge"),
  isUnderFloor: z.boolean(),
  sunsetSocFraction: fraction("Charge when the sun went down"),
  isUnderSunsetTarget: z.boolean(),
  ...figures,
});

const held = z.strictObject({
  load: z.string(),
  code: z.string(),
  sentence: z
    .string()
    .nullable()
    .meta({ description: "As it was said last; null: it tells of time left" }),
  minutes: z.number().meta({ description: "It was off for that reason" }),
  heldBackMinutes: z
    .number()
    .meta({ description: "Of these, those in which the arrays were held back" }),
});

const alert = z.strictObject({
  about: z.string(),
  id: z.string(),
  code: z.string(),
  count: z.number(),
  firstAt: instant,
});

const gap = z.strictObject({ from: instant, to: instant, minutes: z.number() });

export const lookBackSchema = z
  .strictObject({
    formatVersion: z.literal(1),
    site: z.strictObject({ id: z.string(), label: z.string(), timeZone: z.string() }),
    period: z.strictObject({
      kind: z.enum(["week", "day"]),
      name: z.string().meta({ description: "Such as 2026-W10 (ISO 8601), or a date" }),
      from: date,
      to: date,
      isOver: z.boolean(),
      isWhole: z.boolean().meta({ description: "Over, and but for 1 % of its minutes recorded" }),
    }),
    summary: z.string().meta({ description: "For a person" }),
    targets: z.strictObject({
      floorFraction: z.number(),
      sunsetTargetFraction: z.number(),
    }),
    totals: z.strictObject({
      ...figures,
      daysWithoutPotential: z
        .number()
        .meta({ description: "Days whose potential is not known, and is not in the sums" }),
      lowestSocFraction: fraction("Lowest charge"),
      sunsetMisses: z.number(),
    }),
    best: date.nullable().meta({
      description: "Day that used the greatest share of the potential; null: none stands out",
    }),
    worst: date.nullable().meta({ description: "…and the least" }),
    days: z.array(day).meta({ description: "Days of which anything was recorded" }),
    held: z.array(held).meta({ description: "Why loads were off; what cost most comes first" }),
    alerts: z.array(alert),
    gaps: z
      .array(gap)
      .meta({ description: "Nothing was recorded: the service did not run, or could not write" }),
  })
  .meta({ title: "What a week or a day came to" });

export type LookBack = z.output<typeof lookBackSchema>;

export function lookBackJsonSchema(): Readonly<Record<string, unknown>> {
  return z.toJSONSchema(lookBackSchema, { target: "draft-2020-12" });
}
