/** A person has looked at a latched load or panel, and takes the latch away. */
import type { FastifyReply, FastifyRequest } from "fastify";
import { idOf } from "../ids.ts";
import { sendProblem } from "../problem.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";
import type { WriteGate } from "../write-gate.ts";

export function clearRoutes(source: WebSource, gate: WriteGate): RouteEntry[] {
  const clear = (kind: "load" | "panel") => (request: FastifyRequest, reply: FastifyReply) => {
    const refused = gate.refuse(request, reply);
    if (refused !== null) return refused;
    const id = idOf(request.params);
    if (id === null || !source.requestClear(kind, id)) {
      return sendProblem(reply, "unknown-id", { detail: `No ${kind} of that name` });
    }
    return reply.code(202).send({ status: "requested", kind, id });
  };
  return [
    {
      method: "POST",
      path: "/api/loads/:id/clear",
      readers: "trusted",
      handler: clear("load"),
    },
    {
      method: "POST",
      path: "/api/panels/:id/clear",
      readers: "trusted",
      handler: clear("panel"),
    },
  ];
}
