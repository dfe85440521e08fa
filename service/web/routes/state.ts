/** The whole state, for people and programs. */
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";

export function stateRoutes(source: WebSource): RouteEntry[] {
  return [
    {
      method: "GET",
      path: "/api/state",
      readers: "trusted",
      handler: (_request, reply) => reply.send(source.state()),
    },
  ];
}
