import { z } from "zod";
import { learnedSchema } from "../web/routes/learned-document.ts";

export function learnedJsonSchema(): Readonly<Record<string, unknown>> {
  return z.toJSONSchema(learnedSchema, { target: "draft-2020-12" });
}
