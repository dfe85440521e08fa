import { Worker } from "node:worker_threads";
import { UserError } from "../../service/errors.ts";
import type { Programme } from "./programme.ts";
import type { Solution } from "./solve.ts";

export type SolverMessage =
  | { readonly kind: "iterations"; readonly count: number }
  | { readonly kind: "solution"; readonly solution: Solution }
  | { readonly kind: "failed"; readonly reason: string };

export interface WorkerOptions {
  /** @param share - A guess of the part that is done: nobody knows before the end. [1] 0…1 */
  readonly onProgress: (share: number) => void;
  /** Of the thread's own heap; the solver's memory has a limit of its own, 4 GB. [MB] */
  readonly heapMb?: number;
}

const HEAP_MB = 2048;
/** Iterations for each row, at most; seen, not known. [1] */
const ITERATIONS_PER_ROW = 1.2;

/** @throws UserError if the memory does not suffice. */
export function solveInWorker(programme: Programme, options: WorkerOptions): Promise<Solution> {
  const likely = Math.max(1, programme.rowCount * ITERATIONS_PER_ROW);
  return new Promise((resolve, reject) => {
    const worker = new Worker(new URL("./bound-worker.js", import.meta.url), {
      resourceLimits: { maxOldGenerationSizeMb: options.heapMb ?? HEAP_MB },
    });
    const end = (settle: () => void): void => void worker.terminate().then(settle, reject);
    worker.on("error", (error: NodeJS.ErrnoException) => {
      reject(error.code === "ERR_WORKER_OUT_OF_MEMORY" ? tooLarge("out of memory") : error);
    });
    worker.on("message", (message: SolverMessage) => {
      if (message.kind === "iterations") options.onProgress(Math.min(0.99, message.count / likely));
      else if (message.kind === "failed") end(() => reject(tooLarge(message.reason)));
      else end(() => resolve(message.solution));
    });
    worker.postMessage(programme);
  });
}

function tooLarge(found: string): UserError {
  return new UserError([
    { code: "bound-memory", where: "bound", found, expected: "days that fit in memory: fewer" },
  ]);
}
