/** The web application, without listening: tests inject requests, `server.ts` listens. */
import Fastify from "fastify";
import type { FastifyInstance } from "fastify";
import { hostname } from "node:os";
import type { Log } from "../log.ts";
import { isKnownHost } from "./hosts.ts";
import { sendProblem } from "./problem.ts";
import { clearRoutes } from "./routes/clear.ts";
import { healthRoutes } from "./routes/health.ts";
import { metricsRoutes } from "./routes/metrics.ts";
import { stateRoutes } from "./routes/state.ts";
import type { WebSource } from "./source.ts";

export interface AppOptions {
  readonly source: WebSource;
  readonly token: string;
  /** The host in the settings, by which requests may call us. */
  readonly host: string;
  readonly log: Log;
}

/**
 * No route has a schema yet, and loading the libraries that compile them takes longer than all the
 * rest of the web server. Whoever gives a route a schema takes this away.
 */
const NO_SCHEMAS = {
  compilersFactory: { buildValidator: refuseSchema, buildSerializer: refuseSchema },
};
const BODY_BYTES_MAX = 16_384;
const REQUEST_TIMEOUT_MS = 10_000;

const SECURITY_HEADERS: Readonly<Record<string, string>> = {
  "cache-control": "no-store",
  "content-security-policy": "default-src 'none'; frame-ancestors 'none'",
  "cross-origin-resource-policy": "same-origin",
  "referrer-policy": "no-referrer",
  "x-content-type-options": "nosniff",
};

export function createApp({ source, token, host, log }: AppOptions): FastifyInstance {
  const app = Fastify({
    logger: false,
    bodyLimit: BODY_BYTES_MAX,
    requestTimeout: REQUEST_TIMEOUT_MS,
    routerOptions: { maxParamLength: 100 },
    trustProxy: false,
    schemaController: NO_SCHEMAS,
  });
  const machine = hostname().toLowerCase();
  const names = new Set(["localhost", machine, `${machine}.local`, host.toLowerCase()]);

  app.addHook("onRequest", async (request, reply) => {
    reply.headers(SECURITY_HEADERS);
    if (isKnownHost(request.headers.host, names)) return;
    return sendProblem(reply, {
      status: 403,
      code: "unknown-host",
      title: "This service is not known by that name",
    });
  });
  app.setNotFoundHandler((_request, reply) =>
    sendProblem(reply, { status: 404, code: "not-found", title: "There is nothing here" }),
  );
  app.setErrorHandler((error, _request, reply) => {
    const status = statusOf(error);
    if (status < 500) {
      const title = error instanceof Error ? error.message : "The request can't be understood";
      return sendProblem(reply, { status, code: "bad-request", title });
    }
    log.error({ err: error }, "request failed");
    return sendProblem(reply, { status: 500, code: "internal", title: "The service failed" });
  });
  healthRoutes(app, source);
  stateRoutes(app, source);
  metricsRoutes(app, source);
  clearRoutes(app, { source, token });
  return app;
}

function refuseSchema(): never {
  throw new Error("a route has a schema: schemaController must be Fastify's own");
}

function statusOf(error: unknown): number {
  if (typeof error !== "object" || error === null || !("statusCode" in error)) return 500;
  const { statusCode } = error;
  return typeof statusCode === "number" && statusCode >= 400 && statusCode < 600 ? statusCode : 500;
}
