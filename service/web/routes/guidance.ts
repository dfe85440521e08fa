/** Good times for hand-started appliances, for people and programs. */
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";

export function guidanceRoutes(source: WebSource): RouteEntry[] {
  return [
    {
      method: "GET",
      path: "/api/guidance",
      readers: "trusted",
      handler: (_request, reply) => reply.send(source.guidance()),
    },
  ];
}
