/** One route. What it answers is described beside it, in `routes/*-document.ts`. */
import type { FastifyReply, FastifyRequest } from "fastify";

export interface RouteEntry {
  readonly method: "GET" | "POST";
  /** With `:id` for what varies. */
  readonly path: string;
  /** `anyone`: also from other machines without the token; it must give nothing away. */
  readonly readers: "anyone" | "trusted";
  readonly handler: (request: FastifyRequest, reply: FastifyReply) => unknown;
}
