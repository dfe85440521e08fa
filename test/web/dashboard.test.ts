/** The dashboard's files as the service sends them; the files themselves are made up. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { brotliCompressSync, brotliDecompressSync, gzipSync } from "node:zlib";
import { afterAll, beforeAll, expect, test } from "vitest";
import { createTestApp } from "../support/web-app.ts";

const PAGE = "<!doctype html><title>a page</title>";
const SCRIPT = "console.log('a script that is long enough')";
let folder: string;

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-dashboard-"));
  mkdirSync(join(folder, "assets"));
  for (const [name, text] of [
    ["index.html", PAGE],
    [join("assets", "index-abc123.js"), SCRIPT],
  ] as const) {
    writeFileSync(join(folder, name), text);
    writeFileSync(join(folder, `${name}.br`), brotliCompressSync(text));
    writeFileSync(join(folder, `${name}.gz`), gzipSync(text));
  }
});
afterAll(() => rmSync(folder, { recursive: true }));

const app = () => createTestApp({ dashboardFolder: folder }).app;

test("the page is asked for anew, and may load nothing from elsewhere and nothing inline", async () => {
  const { statusCode, headers, body } = await app().inject("/");
  expect(statusCode).toBe(200);
  expect(headers["content-type"]).toMatch(/^text\/html/u);
  expect(headers["cache-control"]).toBe("no-cache");
  expect(headers.etag).toBeDefined();
  const policy = String(headers["content-security-policy"]);
  expect(policy).toMatch(/default-src 'none'/u);
  expect(policy).toMatch(/script-src 'self'(;|$)/u);
  expect(policy).toMatch(/frame-ancestors 'none'/u);
  expect(policy).not.toMatch(/unsafe|\*|https?:|data:/u);
  expect(headers["x-content-type-options"]).toBe("nosniff");
  expect(headers["referrer-policy"]).toBe("no-referrer");
  expect(body).toBe(PAGE);
});

test("what bears a hash in its name is kept, and an unchanged page is not sent again", async () => {
  const site = app();
  const script = await site.inject("/assets/index-abc123.js");
  expect(script.headers["cache-control"]).toBe("public, max-age=31536000, immutable");
  expect(script.headers["content-type"]).toMatch(/^(text|application)\/javascript/u);
  const { headers } = await site.inject("/");
  const again = await site.inject({ url: "/", headers: { "if-none-match": headers.etag } });
  expect(again.statusCode).toBe(304);
  expect(again.body).toBe("");
});

test.each([
  ["br", "gzip, br", "br"],
  ["gzip", "gzip", "gzip"],
  ["plain", "identity", undefined],
])("sends what the build compressed: %s", async (_name, accepted, encoding) => {
  const { headers, rawPayload } = await app().inject({
    url: "/assets/index-abc123.js",
    headers: { "accept-encoding": accepted },
  });
  expect(headers["content-encoding"]).toBe(encoding);
  if (encoding === "br") expect(brotliDecompressSync(rawPayload).toString()).toBe(SCRIPT);
  if (encoding === undefined) expect(rawPayload.toString()).toBe(SCRIPT);
});

test("other machines get the page without the token, but no data", async () => {
  const far = { remoteAddress: "192.168.7.7" };
  const site = app();
  expect((await site.inject({ url: "/", ...far })).statusCode).toBe(200);
  expect((await site.inject({ url: "/assets/index-abc123.js", ...far })).statusCode).toBe(200);
  expect((await site.inject({ url: "/api/site", ...far })).statusCode).toBe(401);
});

test.each([
  "/assets/",
  "/assets/../../secret",
  "/assets/%2e%2e%2findex.html",
  "/index.html.br",
  "/assets/index-abc123.js.gz",
  "/assets/other.js",
])("sends nothing else: %s", async (url) => {
  expect((await app().inject(url)).statusCode).toBe(404);
});

test("the page can't be written to, nor called by a name that is not ours", async () => {
  const site = app();
  expect((await site.inject({ method: "POST", url: "/" })).statusCode).toBe(405);
  const headers = { host: "evil.example" };
  expect((await site.inject({ url: "/", headers })).statusCode).toBe(403);
});

test("without a built dashboard there is none, and the rest is there", async () => {
  const { app: bare } = createTestApp({ dashboardFolder: join(folder, "nowhere") });
  expect((await bare.inject("/")).statusCode).toBe(404);
  expect((await bare.inject("/api/site")).statusCode).toBe(200);
});
