/** For a collector of metrics. */
import type { FastifyInstance } from "fastify";
import type { Metrics } from "../metrics.ts";
import type { WebSource } from "../source.ts";

export function metricsRoutes(app: FastifyInstance, source: WebSource): void {
  let metrics: Promise<Metrics> | null = null;
  app.get("/metrics", async (_request, reply) => {
    metrics ??= import("../metrics.ts").then(({ createMetrics }) => createMetrics(source));
    const { contentType, text } = await metrics;
    return reply.type(contentType).send(await text());
  });
  app.addHook("onClose", async () => {
    (await metrics)?.close();
  });
}
