import { z } from "zod";
import { outcomeSchema } from "../../simulator/outcome-schema.ts";

/** What `replay --json` and `demo --json` print, as a JSON Schema (draft 2020-12). */
export function replayJsonSchema(): Readonly<Record<string, unknown>> {
  return z.toJSONSchema(outcomeSchema, { target: "draft-2020-12" });
}
