/**
 * Questions to the history, answered by a thread of their own: neither the loop nor the thread that
 * writes waits for a reader. The thread is there while somebody asks, and goes when nobody has for
 * a while.
 */
import { existsSync } from "node:fs";
import { Worker } from "node:worker_threads";
import type { Clock } from "../../clock.ts";
import type { Answer, Question } from "./questions.ts";

export interface Asker {
  /** @returns null if there is no history, or it cannot be read in time. */
  readonly ask: (question: Question) => Promise<Answer | null>;
  readonly close: () => Promise<void>;
}

/** [MB] */
const HEAP_MAX_MB = 128;
/** A year of minutes takes some seconds on a small computer. [ms] */
const ANSWER_MS = 30_000;
const IDLE_MS = 60_000;
/** Questions that may wait at once; more are not answered. */
const WAITING_MAX = 32;

interface FromReader {
  readonly ticket: number;
  readonly answer?: Answer;
  readonly failure?: string;
}

interface Waiting {
  readonly settle: (answer: Answer | null) => void;
}

export function createAsker(options: {
  readonly path: string;
  readonly clock: Clock;
  readonly onFailure: (reason: string) => void;
}): Asker {
  const { path, clock, onFailure } = options;
  const waiting = new Map<number, Waiting>();
  let worker: Worker | null = null;
  let ticket = 0;
  let cancelIdle = (): void => undefined;

  const endWorker = async (): Promise<void> => {
    const ending = worker;
    worker = null;
    cancelIdle();
    for (const { settle } of [...waiting.values()]) settle(null);
    await ending?.terminate();
  };
  const hear = ({ ticket: of, answer, failure }: FromReader): void => {
    if (failure !== undefined) onFailure(failure);
    waiting.get(of)?.settle(answer ?? null);
    if (waiting.size > 0) return;
    cancelIdle();
    cancelIdle = clock.schedule(IDLE_MS, () => void endWorker());
  };
  const begin = (): Worker => {
    const begun = new Worker(new URL("./reader-worker.js", import.meta.url), {
      resourceLimits: { maxOldGenerationSizeMb: HEAP_MAX_MB },
    });
    begun.on("message", hear);
    begun.on("error", (error) => {
      onFailure(error instanceof Error ? error.message : String(error));
    });
    begun.on("exit", () => {
      if (worker === begun) void endWorker();
    });
    begun.unref();
    begun.postMessage(path);
    return begun;
  };

  return {
    ask(question) {
      if (waiting.size >= WAITING_MAX || !existsSync(path)) return Promise.resolve(null);
      return new Promise((resolve) => {
        ticket += 1;
        const own = ticket;
        const cancel = clock.schedule(ANSWER_MS, () => void endWorker());
        const settle = (answer: Answer | null): void => {
          waiting.delete(own);
          cancel();
          resolve(answer);
        };
        waiting.set(own, { settle });
        cancelIdle();
        worker ??= begin();
        worker.postMessage({ ticket: own, question });
      });
    },
    close: endWorker,
  };
}
