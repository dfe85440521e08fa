/** Schema of the appliances that people start themselves. */
import { z } from "zod";
import { idField, quantity, quantityOptional, text, timeOfDay } from "./fields.ts";
import { windowSchema } from "./schema-load-fields.ts";

const MINUTE_MS = 60_000;
/** A longer run could not be followed to its sunset. */
export const RUN_MAX_MS = 12 * 60 * MINUTE_MS;
const POWER = { dimension: "power", min: 1, max: 200_000 } as const;
const DURATION = { dimension: "duration", min: MINUTE_MS, max: RUN_MAX_MS } as const;

const pieceSchema = z
  .strictObject({
    power: quantity({ ...POWER, about: "AC power of this piece" }),
    for: quantity({ ...DURATION, about: "How long it lasts" }),
  })
  .meta({ description: "A piece of the run" });

export const applianceSchema = z
  .strictObject({
    id: idField("Name of the appliance", "washing-machine"),
    label: text("What people call it").optional().meta({
      description: "What people call it",
      default: "the id",
      audience: "basic",
    }),
    power: quantityOptional({
      ...POWER,
      about: "AC power, where it is the same for the whole run",
      otherwise: "the profile says it",
    }),
    for: quantityOptional({
      ...DURATION,
      about: "How long a run lasts",
      otherwise: "the profile says it",
    }),
    profile: z.array(pieceSchema).min(1).max(24).optional().meta({
      description: "In place of power and for: the pieces of a run, one after another",
      audience: "basic",
    }),
    latestFinish: timeOfDay("Local time by which it has to be done on the day of its start")
      .optional()
      .meta({
        description: "Local time by which it has to be done on the day of its start",
        examples: ["17:00"],
        default: "any time",
        audience: "basic",
      }),
    windows: z.array(windowSchema).max(24).default([]).meta({
      description: "Hours within which it runs from start to end; none: any hour",
      audience: "basic",
    }),
  })
  .meta({ description: "An appliance that a person starts: only good times are told" });

export type ApplianceSection = z.output<typeof applianceSchema>;
