/** The OpenAPI 3.1 document, made from what stands beside each route. */
import { z } from "zod";
import { PROBLEMS, problemType } from "./problem.ts";
import type { ProblemCode } from "./problem.ts";
import type { NamedSchema, RouteDocument } from "./route-document.ts";
import { ALERT_TEST_DOCUMENTS } from "./routes/alert-test-document.ts";
import { CLEAR_DOCUMENTS } from "./routes/clear-document.ts";
import { GUIDANCE_DOCUMENTS } from "./routes/guidance-document.ts";
import { HEALTH_DOCUMENTS } from "./routes/health-document.ts";
import { LOAD_REQUEST_DOCUMENTS } from "./routes/load-request-document.ts";
import { LEARNED_DOCUMENTS } from "./routes/learned-document.ts";
import { METRICS_DOCUMENTS } from "./routes/metrics-document.ts";
import { OPENAPI_DOCUMENTS } from "./routes/openapi-document.ts";
import { PAST_DOCUMENTS } from "./routes/past-document.ts";
import { RELOAD_DOCUMENTS } from "./routes/reload-document.ts";
import { SESSION_DOCUMENTS } from "./routes/session-document.ts";
import { SETTINGS_DOCUMENTS } from "./routes/settings-document.ts";
import { SITE_DOCUMENTS } from "./routes/site-document.ts";
import { STATE_DOCUMENTS } from "./routes/state-document.ts";
import { SWITCH_TEST_DOCUMENTS } from "./routes/switch-test-document.ts";
import { STREAM_DOCUMENTS } from "./routes/stream-document.ts";
import { WHAT_IF_DOCUMENTS } from "./routes/what-if-document.ts";

const DOCUMENTS: readonly RouteDocument[] = [
  ...HEALTH_DOCUMENTS,
  ...STATE_DOCUMENTS,
  ...SITE_DOCUMENTS,
  ...GUIDANCE_DOCUMENTS,
  ...PAST_DOCUMENTS,
  ...WHAT_IF_DOCUMENTS,
  ...STREAM_DOCUMENTS,
  ...METRICS_DOCUMENTS,
  ...OPENAPI_DOCUMENTS,
  ...SESSION_DOCUMENTS,
  ...LOAD_REQUEST_DOCUMENTS,
  ...SWITCH_TEST_DOCUMENTS,
  ...ALERT_TEST_DOCUMENTS,
  ...LEARNED_DOCUMENTS,
  ...CLEAR_DOCUMENTS,
  ...SETTINGS_DOCUMENTS,
  ...RELOAD_DOCUMENTS,
];

const FOR_ALL: readonly ProblemCode[] = [
  "bad-request",
  "unknown-host",
  "method-not-allowed",
  "body-too-large",
  "unsupported-media-type",
  "too-many-requests",
  "internal",
];

/** @source RFC 9457, section 3.1; `reasons` is our extension (section 3.2). */
const PROBLEM: NamedSchema = {
  name: "Problem",
  schema: z.object({
    type: z.string().meta({ description: "urn:bywash:problem: and the code" }),
    title: z.string(),
    status: z.int(),
    detail: z.string().optional(),
    reasons: z.array(z.string()).optional(),
  }),
};

/** @source OpenAPI Specification 3.1.1, section 4.8. */
export function openApiDocument(version: string): object {
  return {
    openapi: "3.1.1",
    info: {
      title: "Bywash",
      version,
      description:
        "Reads and, with the token or signed in, asks. Nothing here switches a load: the service " +
        "alone decides on what it is asked. It is never the only thing between a fault and a fire.",
    },
    paths: pathsOf(DOCUMENTS),
    components: {
      schemas: schemasOf([...DOCUMENTS.flatMap(partsOf), PROBLEM]),
      securitySchemes: {
        token: { type: "http", scheme: "bearer" },
        session: { type: "apiKey", in: "cookie", name: "bywash_session" },
        page: { type: "apiKey", in: "header", name: "x-csrf-token" },
      },
    },
  };
}

function pathsOf(documents: readonly RouteDocument[]): Record<string, object> {
  const paths: Record<string, Record<string, object>> = {};
  for (const document of documents) {
    const operations = (paths[document.path] ??= {});
    operations[document.method.toLowerCase()] = operationOf(document);
  }
  return paths;
}

function operationOf(document: RouteDocument): object {
  const { summary, answer, problems, security } = document;
  const parameters = parametersOf(document);
  const reading: readonly ProblemCode[] = security === "reading" ? ["token-needed"] : [];
  const body = document.body;
  const content = { [answer.mediaType]: { schema: referenceTo(answer.schema) } };
  return {
    summary,
    ...(parameters.length === 0 ? {} : { parameters }),
    ...(body === undefined ? {} : { requestBody: bodyOf(body) }),
    ...(security === "anyone" ? {} : { security: securityOf(security) }),
    responses: {
      [answer.status]: { description: answer.description, content },
      ...problemResponses([...FOR_ALL, ...reading, ...problems]),
    },
  };
}

function bodyOf(body: NamedSchema): object {
  return { required: true, content: { "application/json": { schema: referenceTo(body) } } };
}

function parametersOf({ path, query = {} }: RouteDocument): readonly object[] {
  const schema = { type: "string" };
  const inPath = [...path.matchAll(/\{(\w+)\}/gu)].map(([, name]) => name);
  return [
    ...inPath.map((name) => ({ name, in: "path", required: true, schema })),
    ...Object.entries(query).map(([name, description]) => {
      return { name, in: "query", required: false, description, schema };
    }),
  ];
}

/** An empty requirement makes it optional: reading on this machine needs no token. */
function securityOf(security: "reading" | "writing"): readonly object[] {
  return security === "writing"
    ? [{ token: [] }, { session: [], page: [] }]
    : [{}, { token: [] }, { session: [] }];
}

function problemResponses(codes: readonly ProblemCode[]): Record<string, object> {
  const statuses = new Set(codes.map((code) => PROBLEMS[code].status));
  const content = { "application/problem+json": { schema: referenceTo(PROBLEM) } };
  return Object.fromEntries(
    [...statuses].map((status) => {
      const ofStatus = codes.filter((code) => PROBLEMS[code].status === status);
      const lines = ofStatus.map((code) => `${problemType(code)}: ${PROBLEMS[code].title}`);
      return [status, { description: lines.join("\n"), content }];
    }),
  );
}

function partsOf({ answer, body, parts = [] }: RouteDocument): readonly NamedSchema[] {
  return [answer.schema, ...(body === undefined ? [] : [body]), ...parts];
}

function referenceTo({ name }: NamedSchema): object {
  return { $ref: `#/components/schemas/${name}` };
}

function schemasOf(named: readonly NamedSchema[]): Record<string, object> {
  return Object.fromEntries(
    named.map(({ name, schema }) => [name, z.toJSONSchema(schema, { io: "output" })]),
  );
}
