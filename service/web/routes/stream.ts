/** State and events as they come, for whoever stays connected. */
import type { RouteEntry } from "../route-entry.ts";
import { sendProblem } from "../problem.ts";
import type { Stream } from "../stream.ts";

const MEDIA_TYPE = "text/event-stream";
/** Whoever finds it full may try again after this. [s] */
const RETRY_AFTER_S = 30;

export function streamRoutes(stream: Stream): RouteEntry[] {
  return [
    {
      method: "GET",
      path: "/api/stream",
      readers: "trusted",
      handler: (request, reply) => {
        if (request.method === "HEAD") return reply.type(MEDIA_TYPE).send();
        if (stream.isFull()) {
          reply.header("retry-after", String(RETRY_AFTER_S));
          return sendProblem(reply, "too-many-streams");
        }
        const lastId = request.headers["last-event-id"];
        // The connection ends with the stream, so that nothing waits for it when the server closes.
        reply.headers({ "content-type": MEDIA_TYPE, connection: "close" }).hijack();
        const { raw } = reply;
        raw.on("error", () => undefined);
        raw.writeHead(200, Object.fromEntries(Object.entries(reply.getHeaders())));
        const leave = stream.open(
          {
            write: (text) => void raw.write(text),
            waitingBytes: () => raw.writableLength,
            end: () => void raw.end(),
            drop: () => void raw.destroy(),
          },
          typeof lastId === "string" && lastId !== "" ? lastId : null,
        );
        raw.on("close", leave);
        return reply;
      },
    },
  ];
}
