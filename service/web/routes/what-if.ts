/**
 * A recorded day with other settings. It takes the machine's time, so it is for whoever may write;
 * and what is wrong with a change quotes the settings file. The day file gives no more away than
 * the day's figures do.
 */
import type { FastifyReply, FastifyRequest } from "fastify";
import { z } from "zod";
import { localDayOf } from "../../local-days.ts";
import { idOf } from "../ids.ts";
import { sendProblem } from "../problem.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";
import type { WriteGate } from "../write-gate.ts";
import { dateOf } from "./past.ts";

const CHANGES_MAX = 20;
const TEXT_MAX = 1_000;

export const whatIfSchema = z.strictObject({
  set: z
    .record(z.string().min(1).max(TEXT_MAX), z.string().max(TEXT_MAX))
    .refine((set) => Object.keys(set).length >= 1 && Object.keys(set).length <= CHANGES_MAX)
    .meta({ description: "Keys of the settings with values in YAML, as `--set` takes them" }),
});

const EXPECTED = 'Expected {"set":{"loads.water-heater.start.aboveRuleCurve":"4 %"}}';
const DATE = "date: a date such as 2026-03-02";

export function whatIfRoutes(source: WebSource, gate: WriteGate): RouteEntry[] {
  const readers = "trusted";
  return [
    {
      method: "POST",
      path: "/api/days/:date/what-if",
      readers,
      handler: (request, reply) => gate.refuse(request, reply) ?? begin(source, request, reply),
    },
    {
      method: "GET",
      path: "/api/what-if/:id",
      readers,
      handler: (request, reply) => {
        if (!gate.isKnown(request)) {
          return sendProblem(reply.header("www-authenticate", "Bearer"), "token-needed");
        }
        return sendView(reply, source.whatIf?.view(idOf(request.params) ?? "") ?? null);
      },
    },
    {
      method: "POST",
      path: "/api/what-if/:id/cancel",
      readers,
      handler: (request, reply) =>
        gate.refuse(request, reply) ??
        sendView(reply, source.whatIf?.cancel(idOf(request.params) ?? "") ?? null),
    },
    {
      method: "GET",
      path: "/api/days/:date/file",
      readers,
      handler: (request, reply) => sendFile(source, request, reply),
    },
  ];
}

function begin({ whatIf }: WebSource, request: FastifyRequest, reply: FastifyReply): FastifyReply {
  if (whatIf === null) return sendProblem(reply, "no-replay");
  const localDay = localDayOf(dateOf(request.params));
  if (localDay === null) return sendProblem(reply, "bad-request", { detail: DATE });
  const body = whatIfSchema.safeParse(request.body);
  if (!body.success) return sendProblem(reply, "bad-request", { detail: EXPECTED });
  const changes = Object.entries(body.data.set).map(([key, value]) => ({ key, value }));
  const view = whatIf.begin({ localDay, changes });
  return view === null ? sendProblem(reply, "replay-busy") : reply.code(202).send(view);
}

function sendView(reply: FastifyReply, view: object | null): FastifyReply {
  return view === null ? sendProblem(reply, "unknown-id") : reply.send(view);
}

async function sendFile(
  { whatIf, site }: WebSource,
  request: FastifyRequest,
  reply: FastifyReply,
): Promise<FastifyReply> {
  if (whatIf === null) return sendProblem(reply, "no-replay");
  const date = dateOf(request.params);
  const localDay = localDayOf(date);
  if (localDay === null) return sendProblem(reply, "bad-request", { detail: DATE });
  const answer = await whatIf.dayFile(localDay);
  switch (answer.kind) {
    case "file":
      return reply
        .type("text/csv; charset=utf-8")
        .header("content-disposition", `attachment; filename="${site().id}-${date}.csv"`)
        .send(answer.text);
    case "busy":
      return sendProblem(reply, "replay-busy");
    case "refused":
      return sendProblem(reply, "unknown-id", { detail: "Nothing was recorded on that day" });
    case "failed":
      return sendProblem(reply, "no-history");
  }
}
