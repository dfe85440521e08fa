/**
 * One order about a recorded day, carried out in a thread of its own that lives no longer: it can
 * be ended at any moment, and what it takes of time and memory is bounded.
 */
import { Worker } from "node:worker_threads";
import type { Clock } from "./clock.ts";
import type { DayMessage, DayOrder, WhatIfProgress } from "./what-if-contract.ts";

/** [MB] A year of minutes would need more; a day with its neighbours takes a tenth. */
const HEAP_MAX_MB = 256;
/** A day takes a second or two on a small computer, longer beside what else that does. [ms] */
export const DAY_WITHIN_MS = 600_000;

export type DayOutcome =
  | Exclude<DayMessage, { readonly kind: "progress" }>
  /** Past its time or its memory, or a failure of ours. */
  | { readonly kind: "failed"; readonly reason: string }
  | { readonly kind: "ended" };

export interface DayThread {
  /** Never rejects. */
  readonly outcome: Promise<DayOutcome>;
  readonly end: () => Promise<void>;
}

export type StartDayThread = (
  order: DayOrder,
  onProgress: (progress: WhatIfProgress) => void,
) => DayThread;

/** @param options.program - The compiled program of the thread. */
export function dayThreads(options: {
  readonly program: URL;
  readonly clock: Pick<Clock, "schedule">;
}): StartDayThread {
  return (order, onProgress) => {
    const worker = new Worker(options.program, {
      resourceLimits: { maxOldGenerationSizeMb: HEAP_MAX_MB },
      // What it prints would stand among the lines of the log.
      stdout: true,
      stderr: true,
    });
    let settle = (_outcome: DayOutcome): void => undefined;
    const outcome = new Promise<DayOutcome>((resolve) => (settle = resolve));
    const end = async (last: DayOutcome): Promise<void> => {
      cancelLimit();
      settle(last);
      await worker.terminate();
    };
    const cancelLimit = options.clock.schedule(DAY_WITHIN_MS, () => {
      void end({ kind: "failed", reason: "It took too long." });
    });
    worker.on("message", (message: DayMessage) => {
      if (message.kind === "progress") onProgress(message.progress);
      else void end(message);
    });
    worker.on("error", (error) => void end({ kind: "failed", reason: reasonOf(error) }));
    worker.on("exit", () => void end({ kind: "failed", reason: "It ended without an answer." }));
    worker.unref();
    worker.postMessage(order);
    return { outcome, end: () => end({ kind: "ended" }) };
  };
}

function reasonOf(error: unknown): string {
  const isMemory =
    error instanceof Error && "code" in error && error.code === "ERR_WORKER_OUT_OF_MEMORY";
  if (isMemory) return "It took more memory than it may.";
  return error instanceof Error ? error.message : String(error);
}
