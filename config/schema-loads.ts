/** Schema of the loads, kind by kind. */
import { z } from "zod";
import { quantity, quantityOr } from "./fields.ts";
import { commonFields, ratedFields } from "./schema-load-fields.ts";
import { setPointCommandSchema, stageCommandSchema } from "./schema-commands.ts";
import { switchCommandSchema, warningSchema } from "./schema-commands.ts";
import { buttonSchema, contactSchema, powerReportSchema } from "./schema-signals.ts";
import { stageReportSchema } from "./schema-signals.ts";

const stageW = (about: string) => quantity({ dimension: "power", about, min: 1, max: 200_000 });

const switchedLoadSchema = z
  .strictObject({
    kind: z.literal("switched").meta({ description: "On or off" }),
    ...commonFields,
    ...ratedFields,
    power: stageW("Rated AC power"),
    command: switchCommandSchema,
    report: contactSchema.optional().meta({ description: "Position that it reports" }),
  })
  .meta({ description: "A load that is on or off" });

const stagedLoadSchema = z
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

const modulatedPowerSchema = z
  .strictObject({
    least: stageW("Least AC power at which it runs"),
    most: stageW("Greatest AC power"),
    step: quantityOr("10 W", {
      dimension: "power",
      about: "Smallest change that the device makes",
      min: 1,
      max: 10_000,
    }),
    fullRise: quantityOr("3 min", {
      dimension: "duration",
      about: "Time that it is given to rise from least to most; it falls at once",
      min: 1000,
      max: 3_600_000,
      audience: "advanced",
    }),
  })
  .meta({ description: "Between which powers it can be set, and how finely" });

const modulatingLoadSchema = z
  .strictObject({
    kind: z.literal("modulating").meta({ description: "Off, or any power between two limits" }),
    ...commonFields,
    ...ratedFields,
    power: modulatedPowerSchema,
    command: setPointCommandSchema,
    report: powerReportSchema.optional().meta({ description: "Whether it is on" }),
  })
  .meta({ description: "A load of continuously variable power" });

const socketsLoadSchema = z
  .strictObject({
    kind: z.literal("sockets").meta({ description: "A panel with ordinary sockets" }),
    ...commonFields,
    expected: stageW("AC power that is usually in use on it"),
    maximum: stageW("Opened at once above this; the breaker of the sockets stays in charge"),
    warnBefore: warningSchema.optional().meta({
      description: "Lamp or sounder that is on before a stop that is not urgent",
    }),
    finishGrace: quantityOr("0 min", {
      dimension: "duration",
      about: "While its meter shows use, a stop that is not urgent waits this much longer",
      min: 0,
      max: 3_600_000,
    }),
    request: buttonSchema.optional().meta({
      description: "Button beside the sockets; live only for a time after a press",
    }),
    command: switchCommandSchema,
    report: contactSchema.optional().meta({ description: "Position that it reports" }),
  })
  .meta({ description: "A panel with ordinary sockets: what hangs on it is only limited" });

export const loadSchema = z
  .discriminatedUnion("kind", [
    switchedLoadSchema,
    stagedLoadSchema,
    modulatingLoadSchema,
    socketsLoadSchema,
  ])
  .meta({ description: "An opportunity load: it only runs on surplus" });
