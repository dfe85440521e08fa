/** The same keys as `site-view.ts`, which a test holds together. */
import { z } from "zod";
import type { RouteDocument } from "../route-document.ts";

const fraction = z.number();

export const siteSchema = z.object({
  formatVersion: z.literal(1),
  id: z.string(),
  label: z.string(),
  timeZone: z.string(),
  tickS: z.number(),
  isTimeSimulated: z.boolean().meta({ description: "The time is that of a demo or a rig" }),
  hasHistory: z.boolean().meta({ description: "Days and events can be asked for" }),
  battery: z.object({
    chemistry: z.enum(["lfp", "flooded", "agm", "gel"]),
    capacityWh: z.number(),
    floorFraction: fraction,
    sunsetTargetFraction: fraction,
    voltageMarks: z
      .object({ startV: z.number(), stopV: z.number() })
      .nullable()
      .meta({ description: "For a battery that is known by its voltage alone; null: none" }),
  }),
  loads: z.array(
    z.object({
      id: z.string(),
      label: z.string(),
      priority: z.number(),
      stagesW: z
        .array(z.number())
        .meta({ description: "Of each stage; of a modulating load its least and greatest" }),
      isModulating: z.boolean(),
      startAboveFraction: fraction.meta({ description: "Over the rule curve" }),
      stopBelowFraction: fraction.meta({ description: "Under the rule curve" }),
    }),
  ),
});

export const SITE_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "GET",
    path: "/api/site",
    summary: "The battery's and the loads' marks out of the settings",
    answer: {
      status: 200,
      description: "Only what a picture of the site needs; not where it is",
      mediaType: "application/json",
      schema: { name: "Site", schema: siteSchema },
    },
    problems: [],
    security: "reading",
  },
];
