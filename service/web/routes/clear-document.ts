import { z } from "zod";
import type { RouteDocument } from "../route-document.ts";

const requestedSchema = z.object({
  status: z.literal("requested"),
  kind: z.enum(["load", "panel"]),
  id: z.string(),
});

function clearDocument(kind: "load" | "panel"): RouteDocument {
  return {
    method: "POST",
    path: `/api/${kind}s/{id}/clear`,
    summary: `Clear the latch of a ${kind}, after a person has looked at it`,
    answer: {
      status: 202,
      description: "The next tick takes the latch away",
      mediaType: "application/json",
      schema: { name: "Requested", schema: requestedSchema },
    },
    problems: ["token-needed", "cross-site", "csrf-missing", "unknown-id"],
    security: "writing",
  };
}

export const CLEAR_DOCUMENTS: readonly RouteDocument[] = [
  clearDocument("load"),
  clearDocument("panel"),
];
