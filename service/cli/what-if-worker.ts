/**
 * What runs in the thread of one order. It gives way to everything else of the machine: a replay
 * may take a second longer, a decision may not.
 */
import { constants, getPriority, setPriority } from "node:os";
import { parentPort } from "node:worker_threads";
import { invariant } from "../control/invariant.ts";
import { formatProblem, UserError } from "../errors.ts";
import type { DayMessage, DayOrder } from "../what-if-contract.ts";
import { dayFileText, whatIf } from "./what-if-day.ts";

const port = parentPort;
invariant(port !== null, "this file runs in a worker thread");
// On Linux this is of the calling thread; elsewhere it would be of the whole process. Not the very
// least: beside something that never rests, such a thread takes minutes for a second's work.
if (process.platform === "linux") {
  setPriority(Math.max(getPriority(), constants.priority.PRIORITY_BELOW_NORMAL));
}

const tell = (message: DayMessage): void => port.postMessage(message);
port.once("message", (order: DayOrder) => tell(lastWordOn(order)));

function lastWordOn(order: DayOrder): DayMessage {
  try {
    if (order.kind === "file") return { kind: "file", text: dayFileText(order) };
    const result = whatIf(order, (progress) => tell({ kind: "progress", progress }));
    return { kind: "what-if", result };
  } catch (error) {
    if (!(error instanceof UserError)) throw error;
    return { kind: "refused", problems: error.problems.map(formatProblem) };
  }
}
