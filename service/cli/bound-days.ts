/** What `bywash bound` and `replay --bound` have in common: the solver with its bar. */
import { computeBound } from "../../simulator/bound/bound.ts";
import type { Bound, BoundOptions } from "../../simulator/bound/bound.ts";
import { solveInWorker } from "../../simulator/bound/solve-in-worker.ts";
import { terminalProgress } from "./terminal-progress.ts";

/** @throws UserError if a day cannot be replayed, nothing keeps the reserve, or memory runs out. */
export async function boundOfDays(options: BoundOptions): Promise<Bound> {
  const progress = terminalProgress("bound");
  return computeBound(options, (programme) =>
    solveInWorker(programme, { onProgress: progress.show }),
  ).finally(progress.end);
}
