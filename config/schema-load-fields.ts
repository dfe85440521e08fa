/** Keys that loads of every kind have, and those of loads that are known by their rating. */
import { z } from "zod";
import { USUAL_START_MS } from "./defaults.ts";
import { dailyAmount, idField, quantity, quantityOptional, quantityOr } from "./fields.ts";
import { reachedAmount, text, timeOfDay } from "./fields.ts";
import { pumpSchema } from "./schema-pump.ts";
import { contactSchema, meterSchema } from "./schema-signals.ts";

const DAY_MS = 86_400_000;

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
    volume: quantityOptional({
      dimension: "volume",
      about: "With it a dry or open heating element shows in how fast the water warms",
      min: 5,
      max: 100_000,
      otherwise: "not known: the element is not watched",
    }),
    surplus: quantity({
      dimension: "temperature",
      about: "Heating on surplus stops here",
      min: 5,
      max: 95,
    }),
    hysteresis: quantityOr("2 K", {
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

export const windowSchema = z
  .strictObject({
    from: timeOfDay("Local time at which the window opens"),
    to: timeOfDay("Local time at which it closes; earlier than from spans midnight"),
  })
  .meta({ description: "Hours in which it may run" });

const deadlineSchema = z
  .strictObject({
    by: timeOfDay("Local time by which it has to be ready"),
    reach: reachedAmount("What is ready: its tank at this, or so much run or used that day"),
    mayDrawTo: quantityOptional({
      dimension: "fraction",
      about: "For that it may draw the battery down to here, when surplus won't do",
      min: 0.05,
      max: 1,
      otherwise: "not at all: it is only told that it will be late",
    }),
  })
  .meta({ description: "By when it has to be ready, each day" });

export const commonFields = {
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
  powerFactor: z.number().min(0.1).max(1).default(1).meta({
    description: "Real over apparent power: heaters 1, motors less, from the type plate",
    audience: "advanced",
  }),
  leg: z.string().optional().meta({
    description: "Id of the inverter's leg that it is wired to",
    default: "on all legs alike",
    audience: "advanced",
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
  startsPerDay: z.number().int().min(1).max(500).optional().meta({
    description: "At most this many starts in a local day",
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
  deadline: deadlineSchema.optional().meta({ description: "By when it has to be ready, each day" }),
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

const startPowerField = {
  dimension: "apparentPower",
  about: "Apparent power while it starts; a motor takes several times its rating",
  min: 1,
  max: 500_000,
} as const;

const startPowerSchema = z
  .union([
    quantity(startPowerField),
    z
      .strictObject({
        power: quantity(startPowerField),
        for: quantityOr(`${USUAL_START_MS / 1000} s`, {
          dimension: "duration",
          about: "How long that lasts; nothing else starts meanwhile",
          min: 100,
          max: 60_000,
        }),
      })
      .meta({ description: "Apparent power while it starts, and for how long" }),
  ])
  .optional()
  .meta({
    description: startPowerField.about,
    examples: ["4.5 kVA"],
    otherwise: "no more than its rated power",
    audience: "basic",
  });

/** What only makes sense where it is known what hangs on the wire. */
export const ratedFields = {
  startPower: startPowerSchema,
  tolerant: z.boolean().optional().meta({
    description: "May be tried while nothing shows yet that there is power for it",
    default: "true for heaters (staged, modulating, or with a tank), false for the others",
    audience: "advanced",
  }),
  tank: tankSchema.optional().meta({ description: "A hot-water tank that the load heats" }),
  pump: pumpSchema.optional().meta({ description: "What protects a pump" }),
};
