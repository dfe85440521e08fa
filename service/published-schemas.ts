/** The payloads of our own topics, out and in, as schemas. Only keys are ever added to them. */
import { z } from "zod";
import { TEST_CODE } from "./alerts.ts";
import { clearRequestSchema, loadOrderSchema } from "./load-request.ts";
import { SITE_CODES } from "./control/site-codes.ts";
import { VERDICT_CODES } from "./control/verdict-codes.ts";
import { guidanceSchema } from "./view-schemas-guidance.ts";
import { codeOf, loadSchema, severitySchema, siteVerdictSchema } from "./view-schemas.ts";
import { verdictSchema } from "./view-schemas.ts";

const mode = z.enum(["active", "shadow"]).meta({ description: "shadow: commands nothing" });
const at = z.iso.datetime().meta({ description: "RFC 3339, UTC" });
const told = { mode, at, site: z.string() };

const statusSchema = z
  .object({
    status: z.enum(["online", "offline"]),
    mode,
    isTimeSimulated: z.boolean().meta({ description: "Its time is that of a demo or a rig" }),
  })
  .meta({ description: "Retained; offline is also the last will" });

const toldLoadSchema = z
  .object({ ...told, ...loadSchema.shape })
  .meta({ description: "Retained; why the load is as it is" });

const shortSchema = verdictSchema.pick({ id: true, code: true, stage: true });

const stateSchema = z
  .object({
    ...told,
    verdict: siteVerdictSchema,
    loads: z.array(shortSchema),
    panels: z.array(shortSchema),
  })
  .meta({ description: "Retained; every 10 s, and when something changes" });

const what = {
  about: z.enum(["site", "load", "panel"]),
  id: z.string(),
  label: z.string(),
  code: codeOf(SITE_CODES, VERDICT_CODES),
  severity: severitySchema,
};

const eventSchema = z
  .object({
    ...told,
    ...what,
    change: z.enum(["started", "stopped", "stage", "raised", "cleared", "closed", "opened"]),
    sentence: z.string().nullable().meta({ description: "null for what is over" }),
  })
  .meta({ description: "One for each change" });

export const alertSchema = z
  .object({
    ...told,
    ...what,
    code: codeOf(SITE_CODES, VERDICT_CODES, { [TEST_CODE]: true }),
    severity: z.literal("alarm"),
    change: z.enum(["raised", "cleared"]),
    sentence: z.string().meta({ description: "For a person, with the name of what it is about" }),
    isTest: z.boolean().meta({ description: "Nothing is wrong: somebody tries the alerts" }),
  })
  .meta({ description: "Once when an alarm is raised, once when it is over" });

const toldGuidanceSchema = z
  .object({
    ...told,
    ...guidanceSchema.omit({ formatVersion: true, at: true, site: true }).shape,
  })
  .meta({ description: "Retained; every 15 min, and when doubt comes or goes" });

export const loadRequestSchema = z.union([clearRequestSchema, loadOrderSchema]);

export const reloadRequestSchema = z
  .strictObject({ request: z.literal("reload") })
  .meta({ description: "Read the settings file anew" });

/** By topic under `bywash/<site>/`; `<id>` is that of a load or panel. */
export const OUT_SCHEMAS = {
  status: statusSchema,
  state: stateSchema,
  "load/<id>": toldLoadSchema,
  event: eventSchema,
  guidance: toldGuidanceSchema,
  alert: alertSchema,
} as const;

export const IN_SCHEMAS = {
  "load/<id>/request": loadRequestSchema,
  "panel/<id>/request": clearRequestSchema,
  "settings/reload": reloadRequestSchema,
} as const;

/** All of them as one JSON Schema document (draft 2020-12). */
export function topicsJsonSchema(): Readonly<Record<string, unknown>> {
  const described = (schemas: Readonly<Record<string, z.ZodType>>) =>
    Object.fromEntries(
      Object.entries(schemas).map(([topic, schema]) => [topic, z.toJSONSchema(schema)]),
    );
  return { out: described(OUT_SCHEMAS), in: described(IN_SCHEMAS) };
}
