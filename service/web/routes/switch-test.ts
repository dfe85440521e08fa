/** A person who stands by a load has it switched once, to see that it obeys. */
import type { FastifyReply, FastifyRequest } from "fastify";
import { z } from "zod";
import { within } from "../../within.ts";
import { idOf } from "../ids.ts";
import { sendProblem } from "../problem.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";
import type { WriteGate } from "../write-gate.ts";

/** Nothing is switched for whoever does not say so. */
export const switchTestRequestSchema = z.strictObject({
  somebodyStandsBy: z.literal(true).meta({
    description: "Somebody is at the load, sees it, and can switch it off at its breaker",
  }),
});

const DECIDED_WITHIN_MS = 3_000;
const EXPECTED = 'Expected {"somebodyStandsBy":true}, said by somebody who does';

export function switchTestRoutes(source: WebSource, gate: WriteGate): RouteEntry[] {
  const handler = async (request: FastifyRequest, reply: FastifyReply): Promise<FastifyReply> => {
    const refused = gate.refuse(request, reply);
    if (refused !== null) return refused;
    const body = switchTestRequestSchema.safeParse(request.body);
    if (!body.success) return sendProblem(reply, "bad-request", { detail: EXPECTED });
    const id = idOf(request.params);
    const begun = id === null ? null : source.testSwitch(id);
    if (begun === null || begun.kind === "unknown-id")
      return sendProblem(reply, "unknown-id", { detail: "No load of that name" });
    if (begun.kind === "refused") return sendProblem(reply, "load-refused", { detail: begun.why });
    const isDecided = await within(
      DECIDED_WITHIN_MS,
      begun.decided.then(() => true),
    );
    if (isDecided !== true) return sendProblem(reply, "not-ticking");
    return reply.send({ switchTest: source.state().switchTest });
  };
  return [{ method: "POST", path: "/api/loads/:id/test", readers: "trusted", handler }];
}
