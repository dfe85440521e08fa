/** What of the settings a picture of the site needs. */
import { buildSiteView } from "../../site-view.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";

export function siteRoutes(source: WebSource): RouteEntry[] {
  return [
    {
      method: "GET",
      path: "/api/site",
      readers: "trusted",
      handler: (_request, reply) => {
        const { isTimeSimulated, past } = source;
        return reply.send(
          buildSiteView(source.site(), { isTimeSimulated, hasHistory: past !== null }),
        );
      },
    },
  ];
}
