/** What `bywash bound` and `replay --bound` have in common: the solver with its bar. */
import { computeBound } from "../../simulator/bound/bound.ts";
import type { Bound, BoundOptions } from "../../simulator/bound/bound.ts";
import { solveInWorker } from "../../simulator/bound/solve-in-worker.ts";
import { systemClock } from "../clock.ts";
import { createProgress } from "./replay-progress.ts";

/** @throws UserError if a day cannot be replayed, nothing keeps the reserve, or memory runs out. */
export async function boundOfDays(options: BoundOptions): Promise<Bound> {
  const progress = createProgress("bound", {
    isTerminal: process.stderr.isTTY,
    write: (text) => process.stderr.write(text),
    nowMs: systemClock.monotonicMs,
  });
  return computeBound(options, (programme) =>
    solveInWorker(programme, { onProgress: progress.show }),
  ).finally(progress.end);
}
