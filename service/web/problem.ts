/** Errors as problem details. A client never learns the insides of a failure of ours. */
import type { FastifyReply } from "fastify";

interface ProblemEntry {
  readonly status: number;
  readonly title: string;
}

/** Every error that this server answers with. Codes are stable; the texts are for people. */
export const PROBLEMS = {
  "bad-request": { status: 400, title: "The request can't be understood" },
  "token-needed": { status: 401, title: "This needs the service's token" },
  "wrong-token": { status: 401, title: "That is not this service's token" },
  "csrf-missing": { status: 403, title: "The request lacks what its page was given" },
  "cross-site": { status: 403, title: "Not from another site" },
  "unknown-host": { status: 403, title: "This service is not known by that name" },
  "not-found": { status: 404, title: "There is nothing here" },
  "unknown-id": { status: 404, title: "The site has nothing of that name" },
  "method-not-allowed": { status: 405, title: "Not with this method" },
  "body-too-large": { status: 413, title: "The body is too large" },
  "unsupported-media-type": { status: 415, title: "Not in this format" },
  "no-settings-file": { status: 409, title: "This run has no settings file to read again" },
  "no-replay": { status: 409, title: "This run cannot replay its days" },
  "replay-busy": { status: 409, title: "Another day is being worked out: try again in a moment" },
  "load-refused": { status: 409, title: "The load cannot do that now" },
  "settings-outdated": { status: 409, title: "The settings file was changed meanwhile" },
  "nothing-to-undo": { status: 409, title: "There is no change to take back" },
  "not-editable": { status: 403, title: "web.editing does not allow that" },
  "settings-refused": { status: 422, title: "The settings file has mistakes" },
  "too-many-requests": { status: 429, title: "Too many requests from this address" },
  "too-many-tries": { status: 429, title: "Too many tries to sign in: wait a little" },
  internal: { status: 500, title: "The service failed" },
  "no-history": { status: 503, title: "The history cannot be read" },
  "not-ready": { status: 503, title: "Not ready" },
  "not-ticking": { status: 503, title: "The loop does not tick" },
  "too-many-streams": { status: 503, title: "Too many readers of the stream" },
} as const satisfies Record<string, ProblemEntry>;

export type ProblemCode = keyof typeof PROBLEMS;

export interface ProblemDetails {
  readonly detail?: string;
  readonly reasons?: readonly string[];
}

export function problemType(code: ProblemCode): string {
  return `urn:bywash:problem:${code}`;
}

/** @source RFC 9457, section 3: `application/problem+json` with type, title, status and detail. */
export function sendProblem(
  reply: FastifyReply,
  code: ProblemCode,
  details: ProblemDetails = {},
): FastifyReply {
  const { status, title } = PROBLEMS[code];
  return reply
    .code(status)
    .type("application/problem+json")
    .send(JSON.stringify({ type: problemType(code), title, status, ...details }));
}
