/** A person has looked at a latched load or panel, and takes the latch away. */
import type { FastifyReply, FastifyRequest } from "fastify";
import { isAuthorised } from "../auth.ts";
import { sendProblem } from "../problem.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";

export function clearRoutes(source: WebSource, token: string): RouteEntry[] {
  const clear = (kind: "load" | "panel") => (request: FastifyRequest, reply: FastifyReply) => {
    if (!isAuthorised(request.headers.authorization, token)) {
      return sendProblem(reply.header("www-authenticate", "Bearer"), "token-needed");
    }
    // Browsers send this for pages of other sites; a token in one's hand is no excuse for those.
    if (request.headers["sec-fetch-site"] === "cross-site") return sendProblem(reply, "cross-site");
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

function idOf(params: unknown): string | null {
  if (typeof params !== "object" || params === null || !("id" in params)) return null;
  return typeof params.id === "string" ? params.id : null;
}
