/** Schema of everything that is listened to: signals, reports, meters, a button. */
import { z } from "zod";
import { checked, pointerField, quantity, quantityOptional, quantityOr } from "./fields.ts";
import { text, topicField } from "./fields.ts";
import { isTopicFilter } from "./topic-filters.ts";

const TOPIC = "Topic on which the value arrives; + and # stand for levels that may be any";
const FIELD = "Where the value stands in a JSON payload; without it the payload is the value";

const staleField = quantityOptional({
  dimension: "duration",
  about: "Older than this it is not used, and loads that need it go off",
  min: 1000,
  max: 86_400_000,
  otherwise: "by the kind of signal, 30 s to 10 min",
});

const bound = (about: string) =>
  z.union([z.string(), z.number()]).optional().meta({ description: about, audience: "advanced" });

/** To listen to: with wildcards (MQTT 5, 4.7.1), but not starting with `$` (4.7.2). */
const listenField = checked(TOPIC, {
  isRight: (value) => isTopicFilter(value) && !value.startsWith("$"),
  expected: "an MQTT topic; + alone in a level, # alone in the last; not starting with $",
  suggest: () => undefined,
  example: "shed/battery",
});

const stampField = z
  .strictObject({
    field: pointerField("Where the time stands in the JSON payload"),
    form: z.enum(["rfc3339", "seconds", "milliseconds"]).meta({
      description: "Text such as 2026-06-15T10:00:00Z, or a number since 1970-01-01T00:00:00Z",
      audience: "advanced",
    }),
    ahead: quantityOr("5 s", {
      dimension: "duration",
      about: "A time further ahead of our clock is not believed",
      min: 0,
      max: 3_600_000,
      audience: "advanced",
    }),
  })
  .optional()
  .meta({
    description: "The publisher's own time of the value; it then is as old as that says",
    audience: "advanced",
  });

const placeFields = {
  field: pointerField(FIELD).optional().meta({ description: FIELD, audience: "basic" }),
  stale: staleField,
  stamp: stampField,
};

const feedFields = {
  topic: listenField.optional().meta({
    description: `${TOPIC}; or combine and of`,
    examples: ["shed/battery"],
    audience: "basic",
  }),
  ...placeFields,
  unit: z.string().optional().meta({
    description: "Unit in which the publisher sends the number, such as W, kW, %, V, A, °C",
    audience: "basic",
  }),
  scale: z.number().optional().meta({
    description: "The number is multiplied by this before its unit applies (0.1 for tenths)",
    default: 1,
    audience: "advanced",
  }),
  range: z
    .strictObject({ min: bound("Lowest value to believe"), max: bound("Highest value to believe") })
    .optional()
    .meta({
      description: "Outside it a value is not believed; with units, such as { min: 40 V }",
      audience: "advanced",
    }),
  maxChange: z
    .strictObject({
      by: z.union([z.string(), z.number()]).meta({
        description: "Largest change to believe, with its unit, such as 2 V",
        audience: "advanced",
      }),
      in: quantity({
        dimension: "duration",
        about: "Time in which it may change so much",
        min: 1,
        max: 86_400_000,
        audience: "advanced",
      }),
    })
    .optional()
    .meta({
      description: "A value that changed faster is not believed until three agree",
      audience: "advanced",
    }),
  frozen: quantityOptional({
    dimension: "duration",
    about:
      "Unchanged for longer while battery, sources or inverter moved, it is not believed; " +
      "not for what may rest, such as an array at night",
    min: 1000,
    max: 2_592_000_000,
    audience: "advanced",
    otherwise: "never",
  }),
};

const meaningFields = {
  positive: z.enum(["charging", "discharging"]).optional().meta({
    description: "battery.current only: what a positive number means",
    default: "charging",
    audience: "basic",
  }),
  values: z
    .record(z.string(), z.union([z.boolean(), z.number(), z.string()]))
    .optional()
    .meta({
      description: 'What each text means, such as { "on": true } or { "main": bulk }',
      audience: "basic",
    }),
};

const partSchema = z
  .strictObject({
    ...feedFields,
    ...meaningFields,
    topic: listenField,
    weight: z.number().positive().optional().meta({
      description: "Its share in a mean",
      default: 1,
      audience: "advanced",
    }),
  })
  .meta({ description: "Where one of several arrives and how to read it" });

const combineFields = {
  combine: z.enum(["sum", "mean", "lowest", "highest"]).optional().meta({
    description: "How the several values of `of` make one",
    audience: "advanced",
  }),
  of: z.array(partSchema).min(2).max(20).optional().meta({
    description: "What is combined; all have to be fresh",
    audience: "advanced",
  }),
};

const fallbackField = z
  .array(
    z
      .strictObject({ ...feedFields, ...meaningFields, ...combineFields })
      .meta({ description: "Where a replacement arrives and how to read it" }),
  )
  .min(1)
  .max(5)
  .optional()
  .meta({
    description: "Read in this order while those before are not fresh",
    audience: "advanced",
  });

/** The load's or panel's own meter, the tank's sensor. */
export const meterSchema = z
  .strictObject({ ...feedFields, ...combineFields, fallback: fallbackField })
  .meta({ description: "Where a measured number arrives" });

export const signalSchema = z
  .strictObject({
    ...feedFields,
    ...meaningFields,
    ...combineFields,
    fallback: fallbackField,
  })
  .meta({ description: "Where one signal arrives and how to read it" });

export type PartSection = z.output<typeof partSchema>;

const ON = "Text of the payload (or field) that means on";
const OFF = "Text of the payload (or field) that means off";

/** A contact with two positions. */
export const contactSchema = z
  .strictObject({
    topic: listenField,
    ...placeFields,
    on: text(ON).optional().meta({ description: ON, default: "1, on, ON or true" }),
    off: text(OFF).optional().meta({ description: OFF, default: "0, off, OFF or false" }),
  })
  .meta({ description: "Where the position of a contact arrives" });

const REPORT_ON =
  "Text of the payload (or field) that means on; without it a number: above 0 is on";

/** A load whose power can be set reports its power, or a contact. */
export const powerReportSchema = z
  .strictObject({
    topic: listenField,
    ...placeFields,
    on: text(REPORT_ON).optional().meta({ description: REPORT_ON }),
    off: text(OFF).optional().meta({ description: OFF }),
  })
  .meta({ description: "Where it reports whether it is on" });

/** A staged load reports the number of its stage. */
export const stageReportSchema = z
  .strictObject({
    topic: listenField,
    ...placeFields,
    values: z.record(z.string(), z.number().int().min(0)).optional().meta({
      description: 'Which stage each text means, such as { "low": 1 }; without it the number',
      audience: "advanced",
    }),
  })
  .meta({ description: "Where the stage that the actuator stands at arrives" });

const PRESSED = "Text of the payload (or field) that means pressed";

/** One message, one press: what the broker has kept says nothing of a press now. */
export const buttonSchema = z
  .strictObject({
    topic: topicField("Topic on which a press arrives; not retained: a kept press does not count"),
    field: pointerField(FIELD).optional().meta({ description: FIELD, audience: "basic" }),
    on: text(PRESSED).optional().meta({ description: PRESSED, default: "1, on, ON or true" }),
    lasts: quantityOr("2 h", {
      dimension: "duration",
      about: "How long the sockets may be live after a press",
      min: 60_000,
      max: 86_400_000,
    }),
  })
  .meta({ description: "The button that asks for power; without it no one has to ask" });
