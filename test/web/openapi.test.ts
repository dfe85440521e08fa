/** The description of the interface, against the interface. */
import { Ajv2020 } from "ajv/dist/2020.js";
import type { InjectOptions } from "fastify";
import { describe, expect, test } from "vitest";
import type { z } from "zod";
import type { StateView } from "../../service/state-view.ts";
import { PROBLEMS, problemType } from "../../service/web/problem.ts";
import type { stateSchema } from "../../service/web/routes/state-document.ts";
import { releasedPast } from "../support/released-past.ts";
import { DONE, releasedWhatIf } from "../support/what-if.ts";
import { createTestApp, stateOf, TOKEN } from "../support/web-app.ts";

interface Operation {
  readonly parameters?: readonly { readonly name: string }[];
  readonly responses: Readonly<
    Record<string, { description: string; content: Record<string, { schema: { $ref: string } }> }>
  >;
}
interface Description {
  readonly openapi: string;
  readonly info: { readonly version: string };
  readonly paths: Readonly<Record<string, Readonly<Record<string, Operation>>>>;
  readonly components: { readonly schemas: Readonly<Record<string, object>> };
}

type App = ReturnType<typeof createTestApp>["app"];

async function descriptionOf(app: App): Promise<Description> {
  const response = await app.inject("/api/openapi.json");
  expect(response.statusCode).toBe(200);
  return response.json<Description>();
}

/** @returns What is wrong with the answer by the document; empty if nothing is. */
async function faults(app: App, request: InjectOptions & { url: string }, path: string) {
  const description = await descriptionOf(app);
  const response = await app.inject(request);
  const method = (request.method ?? "GET").toLowerCase();
  const answer = description.paths[path]?.[method]?.responses[String(response.statusCode)];
  if (answer === undefined) return [`${String(response.statusCode)} is not in the document`];
  const mediaType = String(response.headers["content-type"]).split(";")[0] ?? "";
  const reference = answer.content[mediaType]?.schema.$ref;
  if (reference === undefined) return [`${mediaType} is not in the document`];
  const ajv = new Ajv2020({
    strict: true,
    allowUnionTypes: true,
    allErrors: true,
    validateFormats: false,
  });
  const name = reference.replace("#/components/schemas/", "");
  const validate = ajv.compile(description.components.schemas[name] ?? false);
  const isJson = mediaType.endsWith("json");
  if (isJson && response.json<{ type?: string }>().type?.startsWith("urn:") === true) {
    const { type } = response.json<{ type: string }>();
    if (!answer.description.includes(`${type}:`)) return [`${type} is not listed`];
  }
  validate(isJson ? response.json() : response.body);
  return (validate.errors ?? []).map(
    ({ instancePath, message = "", params }) =>
      `${instancePath} ${message} ${JSON.stringify(params)}`,
  );
}

const bearer = { authorization: `Bearer ${TOKEN}` };
const clear = "/api/loads/water-heater/clear";
const clearPath = "/api/loads/{id}/clear";
const reset = "/api/learned/array.roof/reset";
const resetPath = "/api/learned/{what}/reset";
const testUrl = "/api/loads/water-heater/test";
const testPath = "/api/loads/{id}/test";
const alertUrl = "/api/alerts/test";
const STANDS_BY = { somebodyStandsBy: true };
const far = { remoteAddress: "192.168.7.7" };

describe("every answer is as the document says", () => {
  test.each<[string, InjectOptions & { url: string }, string, number]>([
    ["alive", { url: "/healthz" }, "/healthz", 200],
    ["ready", { url: "/readyz" }, "/readyz", 200],
    ["state", { url: "/api/state" }, "/api/state", 200],
    ["site", { url: "/api/site" }, "/api/site", 200],
    ["guidance", { url: "/api/guidance" }, "/api/guidance", 200],
    ["learned", { url: "/api/learned" }, "/api/learned", 200],
    [
      "switch test",
      { method: "POST", url: testUrl, headers: bearer, payload: STANDS_BY },
      testPath,
      404,
    ],
    [
      "switch test without the token",
      { method: "POST", url: testUrl, payload: STANDS_BY },
      testPath,
      401,
    ],
    ["alert test", { method: "POST", url: alertUrl, headers: bearer }, alertUrl, 200],
    ["alert test without the token", { method: "POST", url: alertUrl }, alertUrl, 401],
    ["reset", { method: "POST", url: reset, headers: bearer }, resetPath, 202],
    ["reset without the token", { method: "POST", url: reset }, resetPath, 401],
    [
      "reset of nothing",
      { method: "POST", url: "/api/learned/wind/reset", headers: bearer },
      resetPath,
      404,
    ],
    [
      "reset from a page of another site",
      { method: "POST", url: reset, headers: { ...bearer, "sec-fetch-site": "cross-site" } },
      resetPath,
      403,
    ],
    ["metrics", { url: "/metrics" }, "/metrics", 200],
    ["description", { url: "/api/openapi.json" }, "/api/openapi.json", 200],
    ["clear a load", { method: "POST", url: clear, headers: bearer }, clearPath, 202],
    [
      "clear a panel",
      { method: "POST", url: "/api/panels/surplus/clear", headers: bearer },
      "/api/panels/{id}/clear",
      202,
    ],
    ["no token", { method: "POST", url: clear }, clearPath, 401],
    [
      "another site's page",
      { method: "POST", url: clear, headers: { ...bearer, "sec-fetch-site": "cross-site" } },
      clearPath,
      403,
    ],
    [
      "nothing of that name",
      { method: "POST", url: "/api/loads/sauna/clear", headers: bearer },
      clearPath,
      404,
    ],
    ["unknown host", { url: "/healthz", headers: { host: "evil.example" } }, "/healthz", 403],
    ["from afar", { url: "/api/state", ...far }, "/api/state", 401],
    [
      "broken body",
      {
        method: "POST",
        url: clear,
        headers: { ...bearer, "content-type": "application/json" },
        payload: "{",
      },
      clearPath,
      400,
    ],
    [
      "large body",
      {
        method: "POST",
        url: clear,
        headers: { ...bearer, "content-type": "application/json" },
        payload: "x".repeat(20_000),
      },
      clearPath,
      413,
    ],
    [
      "foreign body",
      {
        method: "POST",
        url: clear,
        headers: { ...bearer, "content-type": "application/xml" },
        payload: "<a/>",
      },
      clearPath,
      415,
    ],
  ])("%s", async (_what, request, path, status) => {
    const { app } = createTestApp();
    expect((await app.inject(request)).statusCode).toBe(status);
    expect(await faults(app, request, path)).toEqual([]);
  });

  test("not ready, not ticking, failed", async () => {
    const sick = createTestApp({ state: () => stateOf("stale", false), lastTickAgeMs: null });
    expect(await faults(sick.app, { url: "/readyz" }, "/readyz")).toEqual([]);
    expect(await faults(sick.app, { url: "/healthz" }, "/healthz")).toEqual([]);
  });

  test("a state before the first tick, and one with everything in it", async () => {
    const early = { ...stateOf("fresh"), verdict: null, loads: [], panels: [] };
    const { verdict, ...full } = stateOf("fresh");
    const finding = { code: "voltage-low", severity: "alarm", sentence: "low", figures: { a: 1 } };
    const ill = { ...full, verdict: { ...verdict, findings: [finding] } } as StateView;
    for (const state of [early, ill]) {
      const { app } = createTestApp({ state: () => state });
      expect(await faults(app, { url: "/api/state" }, "/api/state")).toEqual([]);
    }
  });

  test("and this check sees a key too many, one too few and a wrong code", async () => {
    const good = stateOf("fresh");
    const short = { ...good, mode: undefined };
    const [load] = good.loads;
    const wrong = { ...good, loads: [{ ...load, code: "never-heard-of" }] };
    for (const state of [{ ...good, extra: 1 }, short, wrong]) {
      const { app } = createTestApp({ state: () => state as StateView });
      expect(await faults(app, { url: "/api/state" }, "/api/state")).not.toEqual([]);
    }
  });
});

test.each([
  ["/api/days", "/api/days", 200],
  ["/api/days?before=2025-06-12&limit=1", "/api/days", 200],
  ["/api/days/2025-06-12", "/api/days/{date}", 200],
  ["/api/days/2025-06-13", "/api/days/{date}", 404],
  ["/api/events?limit=5", "/api/events", 200],
  ["/api/events?limit=0", "/api/events", 400],
])("%s is answered out of the history as the document says", async (url, path, status) => {
  const { app } = createTestApp({ past: releasedPast() });
  expect((await app.inject(url)).statusCode).toBe(status);
  expect(await faults(app, { url }, path)).toEqual([]);
});

test("a history that cannot be read is said to be so", async () => {
  const { app } = createTestApp();
  expect((await app.inject("/api/events")).statusCode).toBe(503);
  expect(await faults(app, { url: "/api/events" }, "/api/events")).toEqual([]);
});

test("a replayed day is answered as the document says, from its beginning to its end", async () => {
  const { app } = createTestApp({ whatIf: releasedWhatIf() });
  const begin = {
    method: "POST",
    url: "/api/days/2025-06-12/what-if",
    headers: bearer,
    payload: { set: { "ruleCurve.at": "90 %" } },
  } as const;
  const steps: readonly [InjectOptions & { url: string }, string, number][] = [
    [begin, "/api/days/{date}/what-if", 202],
    [{ ...begin, headers: {} }, "/api/days/{date}/what-if", 401],
    [{ ...begin, payload: { set: {} } }, "/api/days/{date}/what-if", 400],
    [{ url: `/api/what-if/${DONE}`, headers: bearer }, "/api/what-if/{id}", 200],
    [{ url: "/api/what-if/another", headers: bearer }, "/api/what-if/{id}", 404],
    [
      { method: "POST", url: `/api/what-if/${DONE}/cancel`, headers: bearer },
      "/api/what-if/{id}/cancel",
      200,
    ],
    [{ url: "/api/days/2025-06-12/file" }, "/api/days/{date}/file", 200],
    [{ url: "/api/days/2025-06-31/file" }, "/api/days/{date}/file", 400],
  ];
  for (const [request, path, status] of steps) {
    expect((await app.inject(request)).statusCode).toBe(status);
    expect(await faults(app, request, path)).toEqual([]);
  }
});

test("every route is in the document, and the document has no other", async () => {
  const { app } = createTestApp();
  await app.ready();
  const { paths, openapi, info } = await descriptionOf(app);
  const described = Object.entries(paths).flatMap(([path, operations]) =>
    Object.keys(operations).map((method) => `${method.toUpperCase()} ${path}`),
  );
  // Fastify adds HEAD to each GET by itself.
  const registered = routesOf(app).filter((route) => !route.startsWith("HEAD "));
  expect(described.toSorted()).toEqual(registered.toSorted());
  expect(registered.length).toBeGreaterThanOrEqual(7);
  expect(openapi).toBe("3.1.1");
  expect(info.version).toBe("1.2.3");
});

/** As Fastify itself lists them: a tree, in which a route may stand under the one it begins with. */
function routesOf(app: App): string[] {
  const above: string[] = [];
  return app
    .printRoutes({ commonPrefix: false })
    .split("\n")
    .flatMap((line) => {
      const [, branch = "", path, methods] =
        /^([^/]*)([/][^ ]*)(?: \(([A-Z, ]+)\))?/u.exec(line) ?? [];
      if (path === undefined) return [];
      const depth = branch.length / 4;
      above.splice(depth - 1, Infinity, path);
      if (methods === undefined) return [];
      const written = above.join("").replaceAll(/:(\w+)/gu, "{$1}");
      return methods.split(", ").map((method) => `${method} ${written}`);
    });
}

test("every code that is sent is described, and parameters are named", async () => {
  const description = await descriptionOf(createTestApp().app);
  const text = JSON.stringify(description.paths);
  // What is not there has no path to stand under.
  const codes = (Object.keys(PROBLEMS) as (keyof typeof PROBLEMS)[]).filter(
    (code) => code !== "not-found",
  );
  expect(codes.filter((code) => !text.includes(`${problemType(code)}: `))).toEqual([]);
  expect(description.paths[clearPath]?.["post"]?.parameters).toEqual([
    { name: "id", in: "path", required: true, schema: { type: "string" } },
  ]);
});

type DeepReadonly<T> = T extends object ? { readonly [K in keyof T]: DeepReadonly<T[K]> } : T;

test("the compiler finds every state as described", () => {
  const described = (state: StateView): DeepReadonly<z.output<typeof stateSchema>> => state;
  expect(described(stateOf("fresh")).formatVersion).toBe(1);
});
