/** The settings file as a JSON Schema (draft 2020-12), made from the schema that reads it. */
import { z } from "zod";
import { settingsSchema } from "./schema.ts";

/** What a person writes, not what the service makes of it: quantities are texts here. */
export function settingsJsonSchema(): Readonly<Record<string, unknown>> {
  return z.toJSONSchema(settingsSchema, { io: "input", target: "draft-2020-12" });
}
