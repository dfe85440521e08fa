/** For supervisors: is the process alive, and can it do its work? */
import type { FastifyInstance } from "fastify";
import type { WebSource } from "../source.ts";
import { sendProblem } from "../problem.ts";
import type { StateView } from "../../state-view.ts";

/** A loop that has not ticked for this many ticks hangs. */
const TICKS_MAX = 5;
/** Without these, as far as the site has them, nothing runs. */
const CRITICAL_SIGNALS: ReadonlySet<string> = new Set([
  "battery.soc",
  "battery.voltage",
  "battery.current",
  "inverter.power",
]);

export function healthRoutes(app: FastifyInstance, source: WebSource): void {
  app.get("/healthz", (_request, reply) => {
    const ageMs = source.lastTickAgeMs();
    if (ageMs !== null && ageMs < TICKS_MAX * source.tickMs) return reply.send({ status: "alive" });
    return sendProblem(reply, {
      status: 503,
      code: "not-ticking",
      title: "The loop does not tick",
    });
  });
  app.get("/readyz", (_request, reply) => {
    const reasons = reasonsNotReady(source.state());
    if (reasons.length === 0) return reply.send({ status: "ready" });
    return sendProblem(reply, { status: 503, code: "not-ready", title: "Not ready", reasons });
  });
}

function reasonsNotReady(state: StateView): string[] {
  const signals = state.signals
    .filter(({ signal, quality }) => CRITICAL_SIGNALS.has(signal) && quality !== "fresh")
    .map(({ signal, quality }) => `${signal} is ${quality}`);
  return [
    ...(state.isBrokerConnected ? [] : ["the broker is not connected"]),
    ...state.brokerTroubles,
    ...(state.verdict === null ? ["nothing has been decided yet"] : []),
    ...signals,
  ];
}
