/** A person wants to see whether alerts reach anybody. */
import type { FastifyReply, FastifyRequest } from "fastify";
import type { SentAlert } from "../../publishing.ts";
import { within } from "../../within.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";
import type { WriteGate } from "../write-gate.ts";

/** A broker that has not acknowledged it by then counts as one that has not got it. [ms] */
const DELIVERED_WITHIN_MS = 3_000;

export function alertTestRoutes(source: WebSource, gate: WriteGate): RouteEntry[] {
  const handler = async (request: FastifyRequest, reply: FastifyReply): Promise<FastifyReply> => {
    const refused = gate.refuse(request, reply);
    if (refused !== null) return refused;
    const sent: SentAlert | null = await within(DELIVERED_WITHIN_MS, source.testAlert());
    const { isBrokerConnected, brokerTroubles } = source.state();
    return reply.send({
      ways: [
        {
          kind: "mqtt",
          topic: sent?.topic ?? `bywash/${source.site().id}/alert`,
          isDelivered: sent?.isDelivered === true,
          troubles: isBrokerConnected ? [] : brokerTroubles,
        },
      ],
      alert: sent?.alert ?? null,
    });
  };
  return [{ method: "POST", path: "/api/alerts/test", readers: "trusted", handler }];
}
