import { z } from "zod";
import type { RouteDocument } from "../route-document.ts";
import { switchTestSchema } from "./state-document.ts";
import { switchTestRequestSchema } from "./switch-test.ts";

export const SWITCH_TEST_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "POST",
    path: "/api/loads/{id}/test",
    summary: "Switch a load on for some seconds and off again, while somebody stands by",
    body: { name: "SwitchTestRequest", schema: switchTestRequestSchema },
    answer: {
      status: 200,
      description:
        "Begun, or over if the load may not start now; how it goes on stands in the state. " +
        "Interlocks, limits and rests stay in force, and what remains in doubt is held off",
      mediaType: "application/json",
      schema: { name: "SwitchTestAnswer", schema: z.object({ switchTest: switchTestSchema }) },
    },
    problems: [
      "token-needed",
      "cross-site",
      "csrf-missing",
      "unknown-id",
      "load-refused",
      "not-ticking",
    ],
    security: "writing",
  },
];
