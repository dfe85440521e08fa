/** Errors as problem details. A client never learns the insides of a failure of ours. */
import type { FastifyReply } from "fastify";

export interface Problem {
  readonly status: number;
  /** Stable, kebab-case. */
  readonly code: string;
  readonly title: string;
  readonly detail?: string;
  readonly reasons?: readonly string[];
}

/** @source RFC 9457, section 3: `application/problem+json` with type, title, status and detail. */
export function sendProblem(reply: FastifyReply, { code, ...problem }: Problem): FastifyReply {
  return reply
    .code(problem.status)
    .type("application/problem+json")
    .send(JSON.stringify({ type: `urn:bywash:problem:${code}`, ...problem }));
}
