/** Schema of everything that is published to an actuator. */
import { z } from "zod";
import { checked, quantity, quantityOptional, quantityOr, text, topicField } from "./fields.ts";

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
