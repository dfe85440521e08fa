/** What runs in the history's thread: its first message are the options. */
import { parentPort } from "node:worker_threads";
import type { ScribeOptions, ToScribe } from "./messages.ts";
import { createScribe } from "./scribe.ts";

const port = parentPort;
port?.once("message", (options: ScribeOptions) => {
  const scribe = createScribe(options, (message) => port.postMessage(message));
  port.on("message", (message: ToScribe) => scribe.receive(message));
});
