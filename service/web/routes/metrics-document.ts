import { z } from "zod";
import type { RouteDocument } from "../route-document.ts";

export const METRICS_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "GET",
    path: "/metrics",
    summary: "Figures and counters in the text format of Prometheus",
    answer: {
      status: 200,
      description: "One metric after the other; what is not known has no sample",
      mediaType: "text/plain",
      schema: { name: "Metrics", schema: z.string() },
    },
    problems: [],
    security: "reading",
  },
];
