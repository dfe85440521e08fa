import { setImmediate as turn } from "node:timers/promises";
import { systemClock } from "./clock.ts";

/**
 * The answer, or null if it takes longer than `limitMs` of real time.
 *
 * Timers come first in a loop that was held up itself: an answer that has arrived meanwhile is read
 * before it is taken for missing.
 */
export function within<T>(limitMs: number, answer: Promise<T>): Promise<T | null> {
  return new Promise((resolve, reject) => {
    const cancel = systemClock.schedule(limitMs, () => void turn().then(() => resolve(null)));
    answer.then(resolve, reject).finally(cancel);
  });
}
