/** The web application, without listening: tests inject requests, `server.ts` listens. */
import Fastify from "fastify";
import type { FastifyInstance } from "fastify";
import type { WebSettings } from "../../config/site-settings.ts";
import type { Clock } from "../clock.ts";
import type { Log } from "../log.ts";
import { BUILT_DASHBOARD, dashboardRoutes } from "./dashboard.ts";
import { guardRequests } from "./guard.ts";
import { answerUnknown } from "./methods.ts";
import { sendProblem } from "./problem.ts";
import type { ProblemCode } from "./problem.ts";
import type { RouteEntry } from "./route-entry.ts";
import { alertTestRoutes } from "./routes/alert-test.ts";
import { clearRoutes } from "./routes/clear.ts";
import { guidanceRoutes } from "./routes/guidance.ts";
import { learnedRoutes } from "./routes/learned.ts";
import { pastRoutes } from "./routes/past.ts";
import { reloadRoutes } from "./routes/reload.ts";
import { healthRoutes } from "./routes/health.ts";
import { metricsRoutes } from "./routes/metrics.ts";
import { switchTestRoutes } from "./routes/switch-test.ts";
import { loadRequestRoutes } from "./routes/load-request.ts";
import { openApiRoutes } from "./routes/openapi.ts";
import { sessionRoutes } from "./routes/session.ts";
import { settingsRoutes } from "./routes/settings.ts";
import { siteRoutes } from "./routes/site.ts";
import { stateRoutes } from "./routes/state.ts";
import { streamRoutes } from "./routes/stream.ts";
import { whatIfRoutes } from "./routes/what-if.ts";
import { createRateLimit, SIGN_INS, SIGN_INS_OF_ALL } from "./rate-limit.ts";
import { createSessions } from "./sessions.ts";
import type { WebSource } from "./source.ts";
import { createStream } from "./stream.ts";
import { createWriteGate } from "./write-gate.ts";

export interface AppOptions {
  readonly source: WebSource;
  readonly token: string;
  /** `host`: by which requests may call us. */
  readonly settings: Pick<WebSettings, "host" | "reading">;
  /** Real time: the network's waits don't follow a scaled clock. */
  readonly clock: Clock;
  readonly log: Log;
  /** Where the built dashboard is; absent: beside the compiled program. */
  readonly dashboardFolder?: string;
}

/**
 * No route has a schema in Fastify, and loading the libraries that compile them takes longer than
 * all the rest of the web server. Whoever gives a route a schema takes this away.
 */
const NO_SCHEMAS = {
  compilersFactory: { buildValidator: refuseSchema, buildSerializer: refuseSchema },
};
const BODY_BYTES_MAX = 16_384;
const REQUEST_TIMEOUT_MS = 10_000;

export function createApp(options: AppOptions): FastifyInstance {
  const { source, token, log } = options;
  const app = Fastify({
    logger: false,
    bodyLimit: BODY_BYTES_MAX,
    requestTimeout: REQUEST_TIMEOUT_MS,
    // A browser's spare connection must not hold up the stop, which has a broker to take leave of.
    forceCloseConnections: true,
    routerOptions: { maxParamLength: 100 },
    trustProxy: false,
    schemaController: NO_SCHEMAS,
  });
  const stream = createStream(options);
  const nowMs = (): number => options.clock.monotonicMs();
  const sessions = createSessions(nowMs);
  const gate = createWriteGate(token, sessions);
  const limits = {
    ofOne: createRateLimit(nowMs, SIGN_INS),
    ofAll: createRateLimit(nowMs, SIGN_INS_OF_ALL),
  };
  const metrics = metricsRoutes(source, stream);
  const routes: readonly RouteEntry[] = [
    ...healthRoutes(source),
    ...dashboardRoutes(app, options.dashboardFolder ?? BUILT_DASHBOARD),
    ...stateRoutes(source),
    ...siteRoutes(source),
    ...guidanceRoutes(source),
    ...pastRoutes(source),
    ...streamRoutes(stream),
    ...metrics.routes,
    ...openApiRoutes(source),
    ...sessionRoutes({ token, sessions, limits, gate }),
    ...loadRequestRoutes(source, gate),
    ...switchTestRoutes(source, gate),
    ...alertTestRoutes(source, gate),
    ...learnedRoutes(source, gate),
    ...clearRoutes(source, gate),
    ...reloadRoutes(source, gate),
    ...settingsRoutes(source, gate),
    ...whatIfRoutes(source, gate),
  ];
  guardRequests(app, { ...options, sessions, routes });
  // Only what a page has to say openly that it sends: a form of another site can't.
  app.removeContentTypeParser("text/plain");
  answerUnknown(app, routes);
  app.setErrorHandler((error, _request, reply) => {
    const code = codeOf(error);
    if (code === "internal") log.error({ err: error }, "request failed");
    return sendProblem(reply, code);
  });
  for (const { method, path: url, handler } of routes) app.route({ method, url, handler });
  app.addHook("preClose", async () => stream.close());
  app.addHook("onClose", metrics.close);
  return app;
}

function refuseSchema(): never {
  throw new Error("a route has a schema: schemaController must be Fastify's own");
}

/** Fastify's own refusals carry a status; whatever else is thrown is a failure of ours. */
function codeOf(error: unknown): ProblemCode {
  if (typeof error !== "object" || error === null || !("statusCode" in error)) return "internal";
  const { statusCode } = error;
  if (statusCode === 413) return "body-too-large";
  if (statusCode === 415) return "unsupported-media-type";
  const isClients = typeof statusCode === "number" && statusCode >= 400 && statusCode < 500;
  return isClients ? "bad-request" : "internal";
}
