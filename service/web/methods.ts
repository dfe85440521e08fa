/** Requests that no route takes: nothing is there, or it does not go by that method. */
import type { FastifyInstance } from "fastify";
import { sendProblem } from "./problem.ts";
import type { RouteEntry } from "./route-entry.ts";

export function answerUnknown(app: FastifyInstance, routes: readonly RouteEntry[]): void {
  app.setNotFoundHandler((request, reply) => {
    const [path = ""] = request.url.split("?");
    const methods = routes
      .filter((route) => isMatch(route.path, path))
      .flatMap(({ method }) => (method === "GET" ? ["GET", "HEAD"] : [method]));
    if (methods.length === 0) return sendProblem(reply, "not-found");
    reply.header("allow", [...methods, "OPTIONS"].join(", "));
    return request.method === "OPTIONS"
      ? reply.code(204).send()
      : sendProblem(reply, "method-not-allowed");
  });
}

function isMatch(pattern: string, path: string): boolean {
  const wanted = pattern.split("/");
  const given = path.split("/");
  return (
    wanted.length === given.length &&
    wanted.every((part, index) =>
      part.startsWith(":") ? given[index] !== "" : part === given[index],
    )
  );
}
