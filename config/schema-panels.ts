/** Schema of the surplus panels. */
import { z } from "zod";
import { idField, quantity, quantityOr } from "./fields.ts";
import { switchCommandSchema } from "./schema-commands.ts";
import { contactSchema, meterSchema } from "./schema-signals.ts";

const DAY_MS = 86_400_000;

export const panelSchema = z
  .strictObject({
    id: idField("Name of the panel", "surplus"),
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
