/** Schema of panels and loads. */
import { z } from "zod";
import { dailyAmount, idField, quantity, quantityOptional, quantityOr } from "./fields.ts";
import { text, timeOfDay } from "./fields.ts";
import { contactSchema, meterSchema, stageCommandSchema } from "./schema-signals.ts";
import { stageReportSchema, switchCommandSchema } from "./schema-signals.ts";

const DAY_MS = 86_400_000;

export const panelSchema = z
  .strictObject({
    id: idField("Name of the panel"),
    breaker: quantity({
      dimension: "current",
      about: "Rating of the breaker that feeds the panel",
      min: 1,
      max: 1000,
    }),
    voltage: quantity({
      dimension: "voltage",
      about: "AC voltage of the panel",
      min: 12,
      max: 1000,
    }),
    continuousShare: quantityOr("80 %", {
      dimension: "fraction",
      about: "Share of the breaker's rating that the panel may draw for hours",
      min: 0.1,
      max: 1,
      audience: "advanced",
    }),
    contactor: z
      .strictObject({
        command: switchCommandSchema,
        report: contactSchema.optional().meta({ description: "Position that it reports" }),
      })
      .meta({ description: "The contactor that makes the panel live" }),
    meter: meterSchema.optional().meta({ description: "Meter of the whole panel" }),
    settle: quantityOr("5 s", {
      dimension: "duration",
      about: "Time in which the contactor must have reported a change",
      min: 500,
      max: 600_000,
      audience: "advanced",
    }),
    openAfter: quantityOr("5 min", {
      dimension: "duration",
      about: "Stays closed this long after its last load stopped, to spare the contactor",
      min: 0,
      max: DAY_MS,
      audience: "advanced",
    }),
  })
  .meta({ description: "A sub-panel that is live only on surplus" });

const startSchema = z
  .strictObject({
    aboveRuleCurve: quantityOr("2 %", {
      dimension: "fraction",
      about: "Starts when the state of charge is this far above the rule curve…",
      min: -0.5,
      max: 0.5,
    }),
    for: quantityOr("2 min", {
      dimension: "duration",
      about: "…for this long",
      min: 0,
      max: DAY_MS,
    }),
  })
  .prefault({})
  .meta({ description: "When the load may start" });

const stopSchema = z
  .strictObject({
    belowRuleCurve: quantityOr("2 %", {
      dimension: "fraction",
      about: "Stops when the state of charge is this far below the rule curve…",
      min: -0.5,
      max: 0.5,
    }),
    for: quantityOr("1 min", {
      dimension: "duration",
      about: "…for this long",
      min: 0,
      max: DAY_MS,
    }),
  })
  .prefault({})
  .meta({ description: "When the load has to stop" });

const tankSchema = z
  .strictObject({
    sensor: meterSchema,
    surplus: quantity({
      dimension: "temperature",
      about: "Heating on surplus stops here",
      min: 5,
      max: 95,
    }),
    hysteresis: quantityOr("4 K", {
      dimension: "temperatureDifference",
      about: "Heating resumes this much below",
      min: 0.5,
      max: 40,
    }),
    limit: quantity({
      dimension: "temperature",
      about: "Off at once at or above this; the cut-out of the tank itself stays in charge",
      min: 10,
      max: 98,
    }),
    hardwareLimit: quantity({
      dimension: "temperature",
      about: "Where the tank's own high-limit cut-out trips; only compared with limit",
      min: 10,
      max: 110,
    }),
    mixingValve: z.enum(["confirmed", "none"]).default("none").meta({
      description: "confirmed: a thermostatic mixing valve protects the taps from scalding",
      audience: "basic",
    }),
  })
  .meta({ description: "A hot-water tank that the load heats" });

const windowSchema = z
  .strictObject({
    from: timeOfDay("Local time at which the window opens"),
    to: timeOfDay("Local time at which it closes; earlier than from spans midnight"),
  })
  .meta({ description: "Hours in which the load may run" });

const loadFields = {
  id: idField("Name of the load"),
  label: text("What people call it").optional().meta({
    description: "What people call it",
    default: "the id",
    audience: "basic",
  }),
  panel: z.string().optional().meta({
    description: "Id of the panel that it hangs on; absent: wired on its own",
    audience: "basic",
  }),
  priority: z.number().int().min(1).max(1000).optional().meta({
    description: "1 is served first",
    default: "its place in the list",
    audience: "basic",
  }),
  startPower: quantityOptional({
    dimension: "apparentPower",
    about: "Apparent power while it starts; a motor takes several times its rating",
    min: 1,
    max: 500_000,
    otherwise: "no more than its rated power",
  }),
  start: startSchema,
  stop: stopSchema,
  minRun: quantityOr("10 min", {
    dimension: "duration",
    about: "Once started it runs at least this long (interlocks aside)",
    min: 0,
    max: DAY_MS,
  }),
  minRest: quantityOr("5 min", {
    dimension: "duration",
    about: "Once stopped it rests at least this long",
    min: 0,
    max: DAY_MS,
  }),
  startsPerHour: z.number().int().min(1).max(60).optional().meta({
    description: "At most this many starts within an hour",
    default: "no limit",
    audience: "basic",
  }),
  windows: z.array(windowSchema).max(24).default([]).meta({
    description: "Hours in which it may run; none: any hour",
    audience: "basic",
  }),
  quota: z
    .strictObject({ atMost: dailyAmount("At most this much for each local day") })
    .optional()
    .meta({ description: "How much it may run in a day", audience: "basic" }),
  tank: tankSchema.optional().meta({ description: "A hot-water tank that the load heats" }),
  meter: meterSchema.optional().meta({ description: "The load's own meter" }),
  byHand: contactSchema.optional().meta({
    description: "An input that says the actuator was switched at the device itself",
  }),
  settle: quantityOr("10 s", {
    dimension: "duration",
    about: "Time from a command to its report and its step in power",
    min: 500,
    max: 600_000,
    audience: "advanced",
  }),
  latchAfter: z.number().int().min(1).max(20).default(3).meta({
    description: "Starts in a row without confirmation that latch it off until a person looks",
    audience: "advanced",
  }),
  mayLoadGenerator: z.boolean().default(false).meta({
    description: "May run while the generator runs",
    audience: "advanced",
  }),
};

const stageW = (about: string) => quantity({ dimension: "power", about, min: 1, max: 200_000 });

export const switchedLoadSchema = z
  .strictObject({
    kind: z.literal("switched").meta({ description: "On or off" }),
    ...loadFields,
    power: stageW("Rated AC power"),
    command: switchCommandSchema,
    report: contactSchema.optional().meta({ description: "Position that it reports" }),
  })
  .meta({ description: "A load that is on or off" });

export const stagedLoadSchema = z
  .strictObject({
    kind: z.literal("staged").meta({ description: "Off or one of several powers" }),
    ...loadFields,
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
