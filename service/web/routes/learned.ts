/** What was learned of the site; and, with the token, to have some of it forgotten. */
import type { FastifyReply, FastifyRequest } from "fastify";
import { sendProblem } from "../problem.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";
import type { WriteGate } from "../write-gate.ts";

export function learnedRoutes(source: WebSource, gate: WriteGate): RouteEntry[] {
  const reset = (request: FastifyRequest, reply: FastifyReply) => {
    const refused = gate.refuse(request, reply);
    if (refused !== null) return refused;
    const what = whatOf(request.params);
    if (what === null || !source.requestUnlearn(what)) {
      return sendProblem(reply, "unknown-id", { detail: "Nothing of that name is learned" });
    }
    return reply.code(202).send({ status: "requested", what });
  };
  return [
    {
      method: "GET",
      path: "/api/learned",
      readers: "trusted",
      handler: (_request, reply) => reply.send(source.learned()),
    },
    { method: "POST", path: "/api/learned/:what/reset", readers: "trusted", handler: reset },
  ];
}

function whatOf(params: unknown): string | null {
  if (typeof params !== "object" || params === null || !("what" in params)) return null;
  return typeof params.what === "string" ? params.what : null;
}
