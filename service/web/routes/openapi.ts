/** The description of this interface. Made when it is first asked for. */
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";

export function openApiRoutes(source: WebSource): RouteEntry[] {
  return [
    {
      method: "GET",
      path: "/api/openapi.json",
      readers: "trusted",
      handler: async (_request, reply) => {
        const { openApiDocument } = await import("../openapi.ts");
        return reply.send(openApiDocument(source.state().version));
      },
    },
  ];
}
