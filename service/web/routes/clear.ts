/** A person has looked at a latched load or panel, and takes the latch away. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from "fastify";
import type { WebSource } from "../source.ts";
import { isAuthorised } from "../auth.ts";
import { sendProblem } from "../problem.ts";

export function clearRoutes(
  app: FastifyInstance,
  { source, token }: { readonly source: WebSource; readonly token: string },
): void {
  const clear = (kind: "load" | "panel") => (request: FastifyRequest, reply: FastifyReply) => {
    if (!isAuthorised(request.headers.authorization, token)) {
      reply.header("www-authenticate", "Bearer");
      return sendProblem(reply, {
        status: 401,
        code: "token-needed",
        title: "This needs the service's token",
      });
    }
    // Browsers send this for pages of other sites; a token in one's hand is no excuse for those.
    if (request.headers["sec-fetch-site"] === "cross-site") {
      return sendProblem(reply, {
        status: 403,
        code: "cross-site",
        title: "Not from another site",
      });
    }
    const id = idOf(request.params);
    if (id === null || !source.requestClear(kind, id)) {
      return sendProblem(reply, {
        status: 404,
        code: "unknown-id",
        title: `No ${kind} of that name`,
      });
    }
    return reply.code(202).send({ status: "requested", kind, id });
  };
  app.post("/api/loads/:id/clear", clear("load"));
  app.post("/api/panels/:id/clear", clear("panel"));
}

function idOf(params: unknown): string | null {
  if (typeof params !== "object" || params === null || !("id" in params)) return null;
  return typeof params.id === "string" ? params.id : null;
}
