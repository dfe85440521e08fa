/** For a collector of metrics. */
import type { Metrics } from "../metrics.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";
import type { Stream } from "../stream.ts";

export function metricsRoutes(
  source: WebSource,
  stream: Stream,
): {
  readonly routes: RouteEntry[];
  readonly close: () => Promise<void>;
} {
  let metrics: Promise<Metrics> | null = null;
  return {
    routes: [
      {
        method: "GET",
        path: "/metrics",
        readers: "trusted",
        handler: async (_request, reply) => {
          metrics ??= import("../metrics.ts").then(({ createMetrics }) =>
            createMetrics(source, stream),
          );
          const { contentType, text } = await metrics;
          return reply.type(contentType).send(await text());
        },
      },
    ],
    async close() {
      (await metrics)?.close();
    },
  };
}
