import { z } from "zod";
import type { RouteDocument } from "../route-document.ts";

export const OPENAPI_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "GET",
    path: "/api/openapi.json",
    summary: "This description",
    answer: {
      status: 200,
      description: "An OpenAPI 3.1 document",
      mediaType: "application/json",
      schema: {
        name: "Description",
        schema: z.looseObject({
          openapi: z.string(),
          info: z.looseObject({ title: z.string(), version: z.string() }),
          paths: z.record(z.string(), z.looseObject({})),
        }),
      },
    },
    problems: [],
    security: "reading",
  },
];
