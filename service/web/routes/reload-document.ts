import { z } from "zod";
import type { RouteDocument } from "../route-document.ts";

export const appliedSchema = z.object({
  status: z.literal("applied"),
  warnings: z.array(z.string()),
  needsRestart: z.array(z.string()).meta({
    description: "Sections that were changed, but count only from the next start on",
  }),
});

export const RELOAD_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "POST",
    path: "/api/settings/reload",
    summary: "Read the settings file again; with a mistake in it nothing changes",
    answer: {
      status: 200,
      description: "The service runs on the new settings",
      mediaType: "application/json",
      schema: { name: "Applied", schema: appliedSchema },
    },
    problems: [
      "token-needed",
      "cross-site",
      "csrf-missing",
      "no-settings-file",
      "settings-refused",
    ],
    security: "writing",
  },
];
