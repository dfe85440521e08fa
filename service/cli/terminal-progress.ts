import { systemClock } from "../clock.ts";
import { createProgress } from "./replay-progress.ts";
import type { Progress } from "./replay-progress.ts";

/** Progress on standard error, if that is a terminal. */
export function terminalProgress(label: string): Progress {
  return createProgress(label, {
    isTerminal: process.stderr.isTTY,
    write: (text) => process.stderr.write(text),
    nowMs: systemClock.monotonicMs,
  });
}
