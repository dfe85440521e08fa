/** What `state-view.ts` makes, as schemas; HTTP and MQTT describe it by these. */
import { z } from "zod";
import { SITE_CODES } from "./control/site-codes.ts";
import { VERDICT_CODES } from "./control/verdict-codes.ts";

export const severitySchema = z.enum(["info", "warning", "alarm"]);
const figuresSchema = z
  .record(z.string(), z.number())
  .meta({ description: "The numbers behind it, with the unit in the key" });
const fraction = (about: string) => z.number().nullable().meta({ description: about });
const powerW = (about: string) =>
  z
    .number()
    .nullable()
    .meta({ description: `${about} [W]` });

/** A code out of a dictionary; the document lists them all. */
export const codeOf = (...dictionaries: readonly object[]) =>
  z.string().meta({ enum: dictionaries.flatMap((dictionary) => Object.keys(dictionary)) });

export const verdictSchema = z.object({
  id: z.string(),
  label: z.string(),
  code: codeOf(VERDICT_CODES),
  severity: severitySchema,
  stage: z.number().min(0).meta({ description: "Decided stage; 0: off" }),
  sentence: z.string().meta({ description: "Why, for a person" }),
  figures: figuresSchema,
  remainingS: z.number().nullable(),
});

export const loadSchema = verdictSchema.extend({
  isConfirmed: z.boolean().meta({ description: "Its switch was seen to do what it was told" }),
  asked: z
    .object({
      wants: z.enum(["run", "hold"]),
      until: z.iso.datetime().meta({ description: "RFC 3339, UTC" }),
      remainingS: z.number(),
    })
    .nullable()
    .meta({ description: "What a person has asked for, and still holds" }),
});

const findingSchema = z.object({
  code: codeOf(SITE_CODES),
  severity: severitySchema,
  sentence: z.string(),
  figures: figuresSchema,
});

const outlookSchema = z
  .object({
    expectedWh: z.number().meta({ description: "What the sources are likely to give [Wh]" }),
    cautiousWh: z.number().meta({ description: "On the cautious side, as the curve counts [Wh]" }),
    baseWh: z.number().meta({ description: "Everyday use [Wh]" }),
    sunsetSocFraction: z
      .number()
      .meta({ description: "State of charge at sunset if no opportunity load runs" }),
    sunsetMs: z.number().meta({ description: "[ms since 1970-01-01T00:00:00Z]" }),
    isCompleting: z.boolean().meta({ description: "The battery is to be full by then" }),
    startsAtMs: z.array(z.number().nullable()).meta({
      description: "When each load, in the order of the settings, is likely to be let start",
    }),
  })
  .nullable()
  .meta({ description: "From now to the next sunset; null: the fixed rule curve is in use" });

export const siteVerdictSchema = z.object({
  socSource: z.enum(["monitor", "count", "voltage", "none"]),
  socFraction: fraction("State of charge"),
  chargeStage: z.enum(["bulk", "absorption", "float", "equalise"]).nullable(),
  ruleCurveFraction: z.number(),
  outlook: outlookSchema,
  bandFraction: fraction("State of charge less the rule curve"),
  batteryPowerW: powerW("Positive: charging"),
  sourcesPowerW: z.number(),
  basePowerW: powerW("Essential use"),
  claimW: z.number(),
  availableW: powerW("For a further load"),
  potentialLowW: powerW("What the sources could give now: low end"),
  potentialW: powerW("What the sources could give now: middle"),
  potentialHighW: powerW("What the sources could give now: high end"),
  hiddenLowW: z.number(),
  hiddenStartW: z.number(),
  lendableWh: z.number(),
  inverterHeadroomW: powerW("Rating less present output"),
  isDaylight: z.boolean().nullable(),
  isCurtailed: z.boolean(),
  restVoltageV: z.number().nullable(),
  isFullChargeDue: z.boolean(),
  sentence: z.string(),
  findings: z.array(findingSchema),
});
