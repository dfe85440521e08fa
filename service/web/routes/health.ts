/** For supervisors: is the process alive, and can it do its work? */
import type { StateView } from "../../state-view.ts";
import { sendProblem } from "../problem.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";

/** A loop that has not ticked for this many ticks hangs. */
const TICKS_MAX = 5;
/** Without these, as far as the site has them, nothing runs. */
const CRITICAL_SIGNALS: ReadonlySet<string> = new Set([
  "battery.soc",
  "battery.voltage",
  "battery.current",
  "inverter.power",
]);

export function healthRoutes(source: WebSource): RouteEntry[] {
  return [
    {
      method: "GET",
      path: "/healthz",
      readers: "anyone",
      handler: (_request, reply) => {
        const ageMs = source.lastTickAgeMs();
        const isTicking = ageMs !== null && ageMs < TICKS_MAX * source.tickMs();
        return isTicking ? reply.send({ status: "alive" }) : sendProblem(reply, "not-ticking");
      },
    },
    {
      method: "GET",
      path: "/readyz",
      readers: "anyone",
      handler: (_request, reply) => {
        const reasons = reasonsNotReady(source.state());
        if (reasons.length === 0) return reply.send({ status: "ready" });
        return sendProblem(reply, "not-ready", { reasons });
      },
    },
  ];
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
