/** How the two ends of a rig wait for what is on its way through the broker. */
import { setImmediate as turn } from "node:timers/promises";
import type { Rig } from "../../simulator/rig.ts";
import { systemClock } from "../clock.ts";

/** A message that is missing for so long will not come; a slow card may write for seconds. [ms] */
const PATIENCE_MS = 15_000;

/** So long the answer is waited for awake: a broker with TCP_NODELAY is faster. [ms] */
const BUSY_MS = 3;

/** What one turn of the loop counts at the most: a machine that holds us up is no lost message. */
const TURN_MAX_MS = 50;

export function commandsSeen(rig: Pick<Rig, "commandCounts">): number {
  const { obeyed, refused } = rig.commandCounts();
  return obeyed + refused;
}

/**
 * Lets the event loop turn until `isDone`.
 *
 * Going on without the message would be another run than the one that was asked for.
 */
export async function waitFor(what: string, isDone: () => boolean): Promise<void> {
  let waitedMs = 0;
  let turnedMs = systemClock.monotonicMs();
  while (!isDone()) {
    const nowMs = systemClock.monotonicMs();
    waitedMs += Math.min(nowMs - turnedMs, TURN_MAX_MS);
    turnedMs = nowMs;
    if (waitedMs > PATIENCE_MS) {
      const seconds = String(PATIENCE_MS / 1000);
      throw new Error(`${what} did not come through the broker within ${seconds} s`);
    }
    if (waitedMs < BUSY_MS) await turn();
    else await new Promise((resolve) => systemClock.schedule(1, () => resolve(null)));
  }
}
