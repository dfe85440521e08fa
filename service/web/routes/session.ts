/** Signing in on a page with the service's token, and out. */
import type { FastifyReply, FastifyRequest } from "fastify";
import { z } from "zod";
import { senderOf } from "../address.ts";
import { sendProblem } from "../problem.ts";
import type { RateLimit } from "../rate-limit.ts";
import { isSameText, sessionCookie } from "../sessions.ts";
import type { Sessions } from "../sessions.ts";
import type { RouteEntry } from "../route-entry.ts";
import { isFromElsewhere } from "../write-gate.ts";
import type { WriteGate } from "../write-gate.ts";

export const signInSchema = z.strictObject({ token: z.string().max(1_000) });

export interface SessionView {
  readonly isSignedIn: boolean;
  /** To be sent back as `x-csrf-token` with every write; null: not signed in. */
  readonly csrfToken: string | null;
}

export interface SignInLimits {
  /** Of one sender, and of all of them together. */
  readonly ofOne: RateLimit;
  readonly ofAll: RateLimit;
}

export function sessionRoutes(options: {
  readonly token: string;
  readonly sessions: Sessions;
  readonly limits: SignInLimits;
  readonly gate: WriteGate;
}): RouteEntry[] {
  const { token, sessions, limits, gate } = options;
  const view = (cookie: string | undefined): SessionView => {
    const csrfToken = sessions.csrfToken(cookie);
    return { isSignedIn: csrfToken !== null, csrfToken };
  };
  const signIn = (request: FastifyRequest, reply: FastifyReply): FastifyReply => {
    if (isFromElsewhere(request.headers)) return sendProblem(reply, "cross-site");
    const waitS = Math.max(limits.ofOne.waitS(senderOf(request.ip)), limits.ofAll.waitS("all"));
    if (waitS > 0) return sendProblem(reply.header("retry-after", String(waitS)), "too-many-tries");
    const body = signInSchema.safeParse(request.body);
    if (!body.success) return sendProblem(reply, "bad-request");
    if (!isSameText(body.data.token.trim(), token)) return sendProblem(reply, "wrong-token");
    const cookie = sessionCookie(sessions.begin());
    return reply.header("set-cookie", cookie).send(view(cookie));
  };
  const signOut = (request: FastifyRequest, reply: FastifyReply): FastifyReply => {
    const refused = gate.refuse(request, reply);
    if (refused !== null) return refused;
    sessions.end(request.headers.cookie);
    return reply.header("set-cookie", sessionCookie(null)).send(view(undefined));
  };
  return [
    {
      method: "GET",
      path: "/api/session",
      readers: "anyone",
      handler: ({ headers }, reply) => reply.send(view(headers.cookie)),
    },
    { method: "POST", path: "/api/session", readers: "anyone", handler: signIn },
    { method: "POST", path: "/api/session/end", readers: "anyone", handler: signOut },
  ];
}
