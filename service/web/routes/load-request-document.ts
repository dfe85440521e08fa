import { z } from "zod";
import { loadOrderSchema } from "../../load-request.ts";
import { loadSchema } from "../../view-schemas.ts";
import type { RouteDocument } from "../route-document.ts";

export const LOAD_REQUEST_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "POST",
    path: "/api/loads/{id}/request",
    summary: "Ask a load to run, or to stay off, for a time; or neither any longer",
    body: { name: "LoadRequest", schema: loadOrderSchema },
    answer: {
      status: 200,
      description:
        "Taken: the load as it was decided on. A run may still wait for room or a rest; that the " +
        "switch obeyed `isConfirmed` says, in this answer or a later state",
      mediaType: "application/json",
      schema: { name: "LoadAnswer", schema: z.object({ load: loadSchema }) },
    },
    problems: [
      "token-needed",
      "cross-site",
      "csrf-missing",
      "unknown-id",
      "load-refused",
      "not-ticking",
    ],
    security: "writing",
  },
];
