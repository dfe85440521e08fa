/**
 * Sends the dashboard's files, as the build laid them down: the page is asked for anew each time,
 * what bears a hash in its name is kept for a year. They are the same at every site and give
 * nothing away, so anyone may have them; what they show is asked for at `/api`.
 */
import fastifyStatic from "@fastify/static";
import type { FastifyInstance, FastifyReply, FastifyRequest } from "fastify";
import { existsSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import type { RouteEntry } from "./route-entry.ts";

/** Beside the compiled program; where only the sources are there is none. */
export const BUILT_DASHBOARD = fileURLToPath(new URL("../dashboard/built/", import.meta.url));

/** Scripts, styles and data from here alone; nothing inline, no frame around it, no form. */
const PAGE_POLICY = [
  "default-src 'none'",
  ...["script-src", "style-src", "img-src", "connect-src", "manifest-src"].map(
    (directive) => `${directive} 'self'`,
  ),
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join("; ");
const YEAR_S = 31_536_000;
const COMPRESSED = /\.(br|gz)$/u;

export function dashboardRoutes(app: FastifyInstance, folder: string): RouteEntry[] {
  if (!existsSync(join(folder, "index.html"))) return [];
  void app.register(fastifyStatic, {
    root: folder,
    serve: false,
    cacheControl: false,
    preCompressed: true,
  });
  const files = readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && !COMPRESSED.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name).slice(join(folder, "/").length));
  return files.map((file) => ({
    method: "GET",
    path: file === "index.html" ? "/" : `/${file}`,
    readers: "anyone",
    handler: (_request: FastifyRequest, reply: FastifyReply) => send(reply, file),
  }));
}

function send(reply: FastifyReply, file: string): FastifyReply {
  const isHashed = file.startsWith("assets/");
  const cache = isHashed ? `public, max-age=${String(YEAR_S)}, immutable` : "no-cache";
  reply.header("cache-control", cache);
  if (file === "index.html") {
    reply.headers({
      "content-security-policy": PAGE_POLICY,
      "permissions-policy": "camera=(), geolocation=(), microphone=()",
      "cross-origin-opener-policy": "same-origin",
    });
  }
  return reply.sendFile(file);
}
