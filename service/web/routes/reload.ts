/** Reads the settings file again: checked first, applied as a whole or not at all. */
import type { FastifyReply, FastifyRequest } from "fastify";
import { formatProblem } from "../../errors.ts";
import { sendProblem } from "../problem.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";
import type { WriteGate } from "../write-gate.ts";

export function reloadRoutes(source: WebSource, gate: WriteGate): RouteEntry[] {
  const handler = (request: FastifyRequest, reply: FastifyReply) => {
    const refused = gate.refuse(request, reply);
    if (refused !== null) return refused;
    if (source.reload === null) return sendProblem(reply, "no-settings-file");
    const answer = source.reload();
    if (!answer.isApplied) {
      return sendProblem(reply, "settings-refused", {
        detail: "The service runs on with the settings that it had",
        reasons: answer.problems.map(formatProblem),
      });
    }
    const { warnings, needsRestart } = answer;
    return reply.send({ status: "applied", warnings, needsRestart });
  };
  return [{ method: "POST", path: "/api/settings/reload", readers: "trusted", handler }];
}
