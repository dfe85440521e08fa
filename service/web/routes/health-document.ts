import { z } from "zod";
import type { RouteDocument } from "../route-document.ts";

export const HEALTH_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "GET",
    path: "/healthz",
    summary: "Is the process alive: does its loop tick",
    answer: {
      status: 200,
      description: "It ticks",
      mediaType: "application/json",
      schema: { name: "Alive", schema: z.object({ status: z.literal("alive") }) },
    },
    problems: ["not-ticking"],
    security: "anyone",
  },
  {
    method: "GET",
    path: "/readyz",
    summary: "Can it do its work: broker connected, critical telemetry fresh",
    answer: {
      status: 200,
      description: "It can",
      mediaType: "application/json",
      schema: { name: "Ready", schema: z.object({ status: z.literal("ready") }) },
    },
    problems: ["not-ready"],
    security: "anyone",
  },
];
