import { z } from "zod";
import { alertSchema } from "../../published-schemas.ts";
import type { RouteDocument } from "../route-document.ts";

const waySchema = z.object({
  kind: z.literal("mqtt"),
  topic: z.string(),
  isDelivered: z
    .boolean()
    .meta({ description: "The broker has it; who reads it there is not known" }),
  troubles: z.array(z.string()).meta({ description: "What is wrong with the broker, in words" }),
});

const answerSchema = z.object({
  ways: z.array(waySchema),
  alert: alertSchema
    .omit({ mode: true, site: true })
    .nullable()
    .meta({ description: "As it was sent, beside mode and site; null: the broker is silent" }),
});

export const ALERT_TEST_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "POST",
    path: "/api/alerts/test",
    summary: "Send one alert that says of itself that it is a test, by every way that alerts go",
    answer: {
      status: 200,
      description: "By which ways it was sent, and how far it came",
      mediaType: "application/json",
      schema: { name: "AlertTest", schema: answerSchema },
    },
    problems: ["token-needed", "cross-site", "csrf-missing"],
    security: "writing",
  },
];
