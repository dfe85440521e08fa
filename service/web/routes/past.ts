/** Days and events out of the history. */
import { createHash } from "node:crypto";
import type { FastifyReply, FastifyRequest } from "fastify";
import { localDayOf } from "../../local-days.ts";
import { sendProblem } from "../problem.ts";
import { readQuery } from "../query.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";

const DAYS_USUAL = 31;
const DAYS_MAX = 100;
const EVENTS_USUAL = 100;
const EVENTS_MAX = 500;

export function pastRoutes({ past }: WebSource): RouteEntry[] {
  return [
    {
      method: "GET",
      path: "/api/days",
      readers: "trusted",
      handler: async (request, reply) => {
        const query = readQuery(request.query, ["before", "limit"]);
        const beforeDay = query.date("before");
        const limit = query.whole("limit", DAYS_USUAL, DAYS_MAX);
        if (query.fault() !== null) return refuse(reply, query.fault());
        return answer(request, reply, (await past?.days({ beforeDay, limit })) ?? null);
      },
    },
    {
      method: "GET",
      path: "/api/days/:date",
      readers: "trusted",
      handler: async (request, reply) => {
        const localDay = localDayOf(dateOf(request.params));
        if (localDay === null) return refuse(reply, "date: a date such as 2026-03-02");
        const day = (await past?.day(localDay)) ?? null;
        if (day?.minutes.length === 0) {
          return sendProblem(reply, "unknown-id", { detail: "Nothing was recorded on that day" });
        }
        return answer(request, reply, day);
      },
    },
    {
      method: "GET",
      path: "/api/events",
      readers: "trusted",
      handler: async (request, reply) => {
        const names = ["from", "to", "load", "code", "text", "before", "limit"];
        const query = readQuery(request.query, names);
        const question = {
          fromMs: query.instant("from"),
          toMs: query.instant("to"),
          load: query.text("load"),
          codes: query.text("code")?.split(",") ?? null,
          text: query.text("text"),
          before: query.whole("before", null, Number.MAX_SAFE_INTEGER),
          limit: query.whole("limit", EVENTS_USUAL, EVENTS_MAX),
        };
        if (query.fault() !== null) return refuse(reply, query.fault());
        return answer(request, reply, (await past?.events(question)) ?? null);
      },
    },
  ];
}

/** A day that is over stays as it is: whoever has it already is not sent it again. */
function answer(request: FastifyRequest, reply: FastifyReply, body: object | null): unknown {
  if (body === null) return sendProblem(reply, "no-history");
  const text = JSON.stringify(body);
  const tag = `"${createHash("sha256").update(text).digest("base64url")}"`;
  reply.headers({ etag: tag, "cache-control": "private, no-cache" });
  if (request.headers["if-none-match"] === tag) return reply.code(304).send();
  return reply.type("application/json").send(text);
}

function refuse(reply: FastifyReply, detail: string | null): unknown {
  return sendProblem(reply, "bad-request", { detail: detail ?? "" });
}

/** The `:date` of a path; empty if there is none. */
export function dateOf(params: unknown): string {
  if (typeof params !== "object" || params === null || !("date" in params)) return "";
  return typeof params.date === "string" ? params.date : "";
}
