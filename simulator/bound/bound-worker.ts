/** A thread of its own for the solver: it neither listens nor lets go before it has finished. */
import { parentPort } from "node:worker_threads";
import { invariant } from "../../service/control/invariant.ts";
import type { Programme } from "./programme.ts";
import { solve } from "./solve.ts";
import type { SolverMessage } from "./solve-in-worker.ts";

invariant(parentPort !== null, "this file runs in a worker thread");
const port = parentPort;

port.once("message", (programme: Programme) => {
  const tell = (message: SolverMessage): void => port.postMessage(message);
  void solve(programme, { onIterations: (count) => tell({ kind: "iterations", count }) }).then(
    (solution) => tell({ kind: "solution", solution }),
    // A failure of the solver's own: memory, most likely.
    (error: unknown) => tell({ kind: "failed", reason: String(error) }),
  );
});
