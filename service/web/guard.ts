/**
 * What every request passes before a route sees it: a name that we are known by, a rate that one
 * sender keeps, and for reading from another machine the token, unless the settings open it.
 */
import type { FastifyInstance, FastifyReply, FastifyRequest } from "fastify";
import { hostname } from "node:os";
import type { WebSettings } from "../../config/site-settings.ts";
import type { Clock } from "../clock.ts";
import { isLoopback, senderOf } from "./address.ts";
import { isAuthorised } from "./auth.ts";
import { isKnownHost } from "./hosts.ts";
import { sendProblem } from "./problem.ts";
import { createRateLimit, REQUESTS } from "./rate-limit.ts";
import type { RouteEntry } from "./route-entry.ts";
import type { Sessions } from "./sessions.ts";

const SECURITY_HEADERS: Readonly<Record<string, string>> = {
  "cache-control": "no-store",
  "content-security-policy": "default-src 'none'; frame-ancestors 'none'",
  "cross-origin-resource-policy": "same-origin",
  "referrer-policy": "no-referrer",
  "x-content-type-options": "nosniff",
};

export interface GuardOptions {
  readonly settings: Pick<WebSettings, "host" | "reading">;
  readonly token: string;
  readonly sessions: Sessions;
  readonly clock: Clock;
  readonly routes: readonly RouteEntry[];
}

export function guardRequests(app: FastifyInstance, options: GuardOptions): void {
  const { settings, token, sessions, clock, routes } = options;
  const names = ownNames(settings.host);
  const rate = createRateLimit(() => clock.monotonicMs(), REQUESTS);
  const open = new Set(
    routes.filter(({ readers }) => readers === "anyone").map(({ path }) => path),
  );
  const mayRead = ({ ip, headers, routeOptions }: FastifyRequest): boolean =>
    settings.reading === "open" ||
    isLoopback(ip) ||
    open.has(routeOptions.url ?? "") ||
    isAuthorised(headers.authorization, token) ||
    sessions.has(headers.cookie);

  app.addHook("onRequest", async (request, reply): Promise<FastifyReply | undefined> => {
    reply.headers(SECURITY_HEADERS);
    const waitS = rate.waitS(senderOf(request.ip));
    if (waitS > 0) {
      return sendProblem(reply.header("retry-after", String(waitS)), "too-many-requests");
    }
    if (!isKnownHost(request.headers.host, names)) return sendProblem(reply, "unknown-host");
    if (mayRead(request)) return undefined;
    return sendProblem(reply.header("www-authenticate", "Bearer"), "token-needed");
  });
}

function ownNames(host: string): ReadonlySet<string> {
  const machine = hostname().toLowerCase();
  return new Set(["localhost", machine, `${machine}.local`, host.toLowerCase()]);
}
