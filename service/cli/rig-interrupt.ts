import type { RigRun } from "./rig-contract.ts";

/** Runs to the end. Ctrl-C ends the run in good order; a second one at once. */
export async function untilInterrupted(rig: RigRun): ReturnType<RigRun["run"]> {
  let isAsked = false;
  const onSignal = (): void => {
    if (isAsked) process.exit(1);
    isAsked = true;
    rig.end();
  };
  process.on("SIGINT", onSignal);
  process.on("SIGTERM", onSignal);
  try {
    return await rig.run();
  } finally {
    process.off("SIGINT", onSignal);
    process.off("SIGTERM", onSignal);
  }
}
