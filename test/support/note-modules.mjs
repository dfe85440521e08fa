/** `node --import` of this writes each module that the program loads to `NOTED_MODULES`. */
import { appendFileSync } from "node:fs";
import { register } from "node:module";
import { isMainThread } from "node:worker_threads";

// Node runs the hook in a thread of its own, from this same file.
if (isMainThread) register(import.meta.url);

export async function load(url, context, next) {
  appendFileSync(process.env.NOTED_MODULES, `${url}\n`);
  return next(url, context);
}
