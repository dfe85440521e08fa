/** Schema of everything that listens or publishes: signals, reports, meters, commands. */
import { z } from "zod";
import { checked, pointerField, quantity, quantityOptional, quantityOr } from "./fields.ts";
import { text, topicField } from "./fields.ts";

const TOPIC = "Topic on which the value arrives";
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

const numberFields = {
  topic: topicField(TOPIC),
  field: pointerField(FIELD).optional().meta({ description: FIELD, audience: "basic" }),
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
  stale: staleField,
};

/** The load's or panel's own meter, the tank's sensor. */
export const meterSchema = z
  .strictObject(numberFields)
  .meta({ description: "Where a measured number arrives" });

export const signalSchema = z
  .strictObject({
    ...numberFields,
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
  })
  .meta({ description: "Where one signal arrives and how to read it" });

const ON = "Text of the payload (or field) that means on";
const OFF = "Text of the payload (or field) that means off";

/** A contact with two positions. */
export const contactSchema = z
  .strictObject({
    topic: topicField(TOPIC),
    field: pointerField(FIELD).optional().meta({ description: FIELD, audience: "basic" }),
    on: text(ON).optional().meta({ description: ON, default: "1, on, ON or true" }),
    off: text(OFF).optional().meta({ description: OFF, default: "0, off, OFF or false" }),
    stale: staleField,
  })
  .meta({ description: "Where the position of a contact arrives" });

const REPORT_ON =
  "Text of the payload (or field) that means on; without it a number: above 0 is on";

/** A load whose power can be set reports its power, or a contact. */
export const powerReportSchema = z
  .strictObject({
    topic: topicField(TOPIC),
    field: pointerField(FIELD).optional().meta({ description: FIELD, audience: "basic" }),
    on: text(REPORT_ON).optional().meta({ description: REPORT_ON }),
    off: text(OFF).optional().meta({ description: OFF }),
    stale: staleField,
  })
  .meta({ description: "Where it reports whether it is on" });

/** A staged load reports the number of its stage. */
export const stageReportSchema = z
  .strictObject({
    topic: topicField(TOPIC),
    field: pointerField(FIELD).optional().meta({ description: FIELD, audience: "basic" }),
    values: z.record(z.string(), z.number().int().min(0)).optional().meta({
      description: 'Which stage each text means, such as { "low": 1 }; without it the number',
      audience: "advanced",
    }),
    stale: staleField,
  })
  .meta({ description: "Where the stage that the actuator stands at arrives" });

const commandFields = {
  topic: topicField("Topic to which commands are published; never retained"),
  repeat: quantityOr("30 s", {
    dimension: "duration",
    about: "An ON is sent again this often",
    min: 1000,
    max: 3_600_000,
  }),
  hold: quantity({
    dimension: "duration",
    about: "The actuator drops by itself this long after the last ON; at least 2.5 times repeat",
    min: 2500,
    max: 86_400_000,
  }),
};

const OFF_PAYLOAD = "Payload that switches off";
const PRESSED = "Text of the payload (or field) that means pressed";
/** Where the number of a set-point goes. */
const SET_POINT_PLACE = /\{\{(?:percent|watts|amps)\}\}/u;

export const switchCommandSchema = z
  .strictObject({
    ...commandFields,
    on: text("Payload that switches on"),
    off: text(OFF_PAYLOAD),
  })
  .meta({ description: "How the actuator is switched" });

export const stageCommandSchema = z
  .strictObject({
    ...commandFields,
    payload: checked("Payload; {{stage}} becomes 0 (off), 1, 2 …", {
      isRight: (value) => value.includes("{{stage}}"),
      expected: "a payload with {{stage}} where the number of the stage goes",
      suggest: () => `'{"stage": {{stage}}}'`,
      example: '{"stage": {{stage}}}',
    }),
  })
  .meta({ description: "How the actuator is set to a stage" });

export const setPointCommandSchema = z
  .strictObject({
    ...commandFields,
    payload: checked("Payload; {{percent}}, {{watts}} or {{amps}} becomes the set-point", {
      isRight: (value) => value.split(SET_POINT_PLACE).length === 2,
      expected: "a payload with one {{percent}}, {{watts}} or {{amps}} where the number goes",
      suggest: () => `'{"power": {{watts}}}'`,
      example: '{"power": {{watts}}}',
    }),
    voltage: quantityOptional({
      dimension: "voltage",
      about: "For {{amps}}: W for each A, so the AC voltage (three-phase: three times that)",
      min: 12,
      max: 1500,
      otherwise: "none; only {{amps}} needs it",
    }),
    decimals: z.number().int().min(0).max(3).optional().meta({
      description: "Digits after the decimal point of the number",
      default: "0 for watts, 1 for percent and amps",
      audience: "advanced",
    }),
    off: text(OFF_PAYLOAD).optional().meta({
      description: OFF_PAYLOAD,
      default: "payload with 0",
      audience: "basic",
    }),
  })
  .meta({ description: "How the actuator is set to a power" });

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

export const warningSchema = z
  .strictObject({
    ...commandFields,
    on: text("Payload that switches the lamp or sounder on"),
    off: text("Payload that switches it off"),
    for: quantityOr("2 min", {
      dimension: "duration",
      about: "It is on this long before a stop that is not urgent",
      min: 1000,
      max: 3_600_000,
    }),
  })
  .meta({ description: "Lamp or sounder that tells of a stop; an interlock does not wait for it" });
