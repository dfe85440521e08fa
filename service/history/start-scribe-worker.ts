/** The scribe in a thread of its own. */
import { Worker } from "node:worker_threads";
import type { StartScribe } from "./scribe-link.ts";

/** A scribe needs a few MB; the rest of a small computer is not its to take. [MB] */
const HEAP_MAX_MB = 64;

export const startScribeWorker: StartScribe = (options, { onMessage, onEnd }) => {
  const worker = new Worker(new URL("./scribe-worker.js", import.meta.url), {
    resourceLimits: { maxOldGenerationSizeMb: HEAP_MAX_MB },
  });
  let failure: unknown = null;
  worker.on("message", onMessage);
  worker.on("error", (error) => {
    failure = error;
  });
  worker.on("exit", () => onEnd(failure));
  worker.postMessage(options);
  return {
    post: (message) => worker.postMessage(message),
    async end() {
      await worker.terminate();
    },
  };
};
