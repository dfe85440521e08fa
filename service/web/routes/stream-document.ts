/** The stream: text to the schema's eye; the data of each kind of message has one of its own. */
import { z } from "zod";
import { SITE_CODES } from "../../control/site-codes.ts";
import { VERDICT_CODES } from "../../control/verdict-codes.ts";
import type { RouteDocument } from "../route-document.ts";

const eventSchema = z.object({
  at: z.iso.datetime(),
  about: z.enum(["site", "load", "panel"]),
  id: z.string(),
  label: z.string(),
  change: z.enum(["started", "stopped", "stage", "raised", "cleared", "closed", "opened"]),
  code: z.string().meta({ enum: [...Object.keys(SITE_CODES), ...Object.keys(VERDICT_CODES)] }),
  severity: z.enum(["info", "warning", "alarm"]),
  sentence: z.string().nullable().meta({ description: "Why; null for what is over" }),
});

const gapSchema = z.object({
  reason: z.enum(["another-run", "too-old"]).meta({
    description: "another-run: the service was started anew; too-old: no longer kept",
  }),
});

export const STREAM_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "GET",
    path: "/api/stream",
    summary: "State and events as they come (server-sent events)",
    answer: {
      status: 200,
      description:
        "`state` (data: State) first, on change, and every 10 s; `event` (data: Event) for each " +
        "event. With `Last-Event-ID` the events since then follow the first state; if they are " +
        "no longer known, `gap` (data: Gap) comes before it.",
      mediaType: "text/event-stream",
      schema: { name: "Stream", schema: z.string() },
    },
    parts: [
      { name: "Event", schema: eventSchema },
      { name: "Gap", schema: gapSchema },
    ],
    problems: ["too-many-streams"],
    security: "reading",
  },
];
