/**
 * Who may change something: a program that sends the token, or a page of ours on which a person has
 * signed in. A browser sends its cookie whoever makes it ask, so a page has to show besides that it
 * is ours: by where the browser says that it comes from, and by what only our page can have read.
 */
import type { FastifyReply, FastifyRequest } from "fastify";
import type { IncomingHttpHeaders } from "node:http";
import { isAuthorised } from "./auth.ts";
import { sendProblem } from "./problem.ts";
import type { ProblemCode } from "./problem.ts";
import { isSameText } from "./sessions.ts";
import type { Sessions } from "./sessions.ts";

export const CSRF_HEADER = "x-csrf-token";

export interface WriteGate {
  /** @returns What was answered, if the request may not write; null if it may. */
  readonly refuse: (request: FastifyRequest, reply: FastifyReply) => FastifyReply | null;
  /** For reading what only such a person may see. */
  readonly isKnown: (request: FastifyRequest) => boolean;
}

export function createWriteGate(token: string, sessions: Sessions): WriteGate {
  return {
    refuse({ headers }, reply) {
      const code = refusalOf(headers, token, sessions);
      if (code === null) return null;
      if (code === "token-needed") reply.header("www-authenticate", "Bearer");
      return sendProblem(reply, code);
    },
    isKnown: ({ headers }) =>
      isAuthorised(headers.authorization, token) || sessions.has(headers.cookie),
  };
}

function refusalOf(
  headers: IncomingHttpHeaders,
  token: string,
  sessions: Sessions,
): ProblemCode | null {
  const { authorization, cookie } = headers;
  if (isAuthorised(authorization, token)) return isFromElsewhere(headers) ? "cross-site" : null;
  const csrfToken = authorization === undefined ? sessions.csrfToken(cookie) : null;
  if (csrfToken === null) return "token-needed";
  if (!isFromOurPage(headers)) return "cross-site";
  const given = headers[CSRF_HEADER];
  return typeof given === "string" && isSameText(given, csrfToken) ? null : "csrf-missing";
}

/** A token in one's hand is no excuse for a page of another site. Programs say nothing of these. */
export function isFromElsewhere(headers: IncomingHttpHeaders): boolean {
  const site = headers["sec-fetch-site"];
  if (site !== undefined && site !== "same-origin" && site !== "none") return true;
  return headers.origin !== undefined && !isOurOrigin(headers);
}

/** Every browser says with a POST where it comes from. */
function isFromOurPage(headers: IncomingHttpHeaders): boolean {
  return headers.origin !== undefined && !isFromElsewhere(headers);
}

/** Behind a proxy with a certificate the origin is https; its name is what counts. */
function isOurOrigin({ origin, host }: IncomingHttpHeaders): boolean {
  if (host === undefined) return false;
  return origin === `http://${host}` || origin === `https://${host}`;
}
