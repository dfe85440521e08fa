/** Schema of what protects a pump, its pipe and its cistern. */
import { z } from "zod";
import { powerOrFlow, quantityOr } from "./fields.ts";
import { contactSchema, meterSchema } from "./schema-signals.ts";

const dryRunSchema = z
  .strictObject({
    below: powerOrFlow("With less power or flow than this it has no water; off at once…"),
    for: quantityOr("10 s", {
      dimension: "duration",
      about: "…when that has lasted this long",
      min: 1000,
      max: 600_000,
    }),
  })
  .meta({ description: "How running dry is told; beside the pump's own protection" });

const levelSchema = z
  .strictObject({
    sensor: meterSchema.meta({ description: "Where the level arrives, as a share of full" }),
    full: quantityOr("95 %", {
      dimension: "fraction",
      about: "The cistern wants nothing more from here",
      min: 0.05,
      max: 1,
    }),
    resume: quantityOr("80 %", {
      dimension: "fraction",
      about: "…and wants water again from here down",
      min: 0,
      max: 0.99,
    }),
  })
  .meta({ description: "The cistern that the pump fills; its level lost, the pump is off" });

const pipeSchema = z
  .strictObject({
    sensor: meterSchema.meta({ description: "Where the temperature of the pipe arrives" }),
    min: quantityOr("2 °C", {
      dimension: "temperature",
      about: "Off at once under this: the pipe may freeze",
      min: -30,
      max: 20,
    }),
  })
  .meta({ description: "The pipe that must not freeze" });

export const pumpSchema = z
  .strictObject({
    dryRun: dryRunSchema.optional().meta({ description: "How running dry is told" }),
    flow: meterSchema.optional().meta({ description: "Meter of the water through the pump" }),
    sourceLow: contactSchema.optional().meta({
      description: "Contact that is on when the source is low; lost or on, the pump is off",
    }),
    level: levelSchema.optional().meta({ description: "The cistern that the pump fills" }),
    pipe: pipeSchema.optional().meta({ description: "The pipe that must not freeze" }),
  })
  .meta({ description: "Protections of a pump" });
