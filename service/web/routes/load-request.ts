/** A person wants a load on, or off, for a time. What comes of that the next tick decides. */
import type { FastifyReply, FastifyRequest } from "fastify";
import { loadOrder, loadOrderSchema } from "../../load-request.ts";
import type { LoadView } from "../../state-view.ts";
import { idOf } from "../ids.ts";
import { sendProblem } from "../problem.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";
import type { WriteGate } from "../write-gate.ts";

export function loadRequestRoutes(source: WebSource, gate: WriteGate): RouteEntry[] {
  const handler = async (request: FastifyRequest, reply: FastifyReply): Promise<FastifyReply> => {
    const refused = gate.refuse(request, reply);
    if (refused !== null) return refused;
    const body = loadOrderSchema.safeParse(request.body);
    if (!body.success) return sendProblem(reply, "bad-request", { detail: EXPECTED });
    const id = idOf(request.params);
    const answer = id === null ? null : source.requestLoad(id, loadOrder(body.data));
    if (answer === null)
      return sendProblem(reply, "unknown-id", { detail: "No load of that name" });
    const load = await answer;
    if (load === null) return sendProblem(reply, "not-ticking");
    if (isTaken(load, body.data.request)) return reply.send({ load });
    return sendProblem(reply, "load-refused", { detail: load.sentence });
  };
  return [{ method: "POST", path: "/api/loads/:id/request", readers: "trusted", handler }];
}

const EXPECTED = 'Expected {"request":"run","forS":1800}, "hold" with its time, or "release"';

/** A run that something speaks against is over as soon as it was asked for. */
function isTaken({ asked }: LoadView, request: "run" | "hold" | "release"): boolean {
  return request === "release" ? asked === null : asked !== null && asked.wants === request;
}
