/** The whole state, for people and programs. */
import type { FastifyInstance } from "fastify";
import type { WebSource } from "../source.ts";

export function stateRoutes(app: FastifyInstance, source: WebSource): void {
  app.get("/api/state", (_request, reply) => reply.send(source.state()));
}
