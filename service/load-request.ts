/** What may be asked of a load, as it comes over HTTP and MQTT. */
import { z } from "zod";
import { ASKED_MAX_MS } from "./control/asked.ts";
import type { LoadOrder } from "./requests.ts";

const MS_PER_S = 1000;
/** A request that says nothing of its time holds for this long. [s] */
const FOR_DEFAULT_S = 3_600;

export const clearRequestSchema = z
  .strictObject({ request: z.literal("clear") })
  .meta({ description: "A person has looked: take the latch away" });

const timedSchema = z
  .strictObject({
    request: z.enum(["run", "hold"]),
    forS: z
      .number()
      .min(1)
      .max(ASKED_MAX_MS / MS_PER_S)
      .optional()
      .meta({ description: "For how long [s]; an hour where that is not said" }),
  })
  .meta({ description: "run: it is wanted on; hold: it is wanted off" });

const releaseSchema = z
  .strictObject({ request: z.literal("release") })
  .meta({ description: "Neither run nor hold any longer" });

export const loadOrderSchema = z.union([timedSchema, releaseSchema]);

export function loadOrder(body: z.output<typeof loadOrderSchema>): LoadOrder {
  if (body.request === "release") return { request: "release", forMs: 0 };
  return { request: body.request, forMs: (body.forS ?? FOR_DEFAULT_S) * MS_PER_S };
}
