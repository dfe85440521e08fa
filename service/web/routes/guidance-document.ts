/** How advice on hand-started appliances is described for other programs. */
import { guidanceSchema } from "../../view-schemas-guidance.ts";
import type { RouteDocument } from "../route-document.ts";

export const GUIDANCE_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "GET",
    path: "/api/guidance",
    summary: "Good times today and tomorrow for appliances that people start themselves",
    answer: {
      status: 200,
      description: "Worked out at most a minute ago; in doubt a refusal and no advice",
      mediaType: "application/json",
      schema: { name: "Guidance", schema: guidanceSchema },
    },
    problems: [],
    security: "reading",
  },
];
