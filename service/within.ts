import { systemClock } from "./clock.ts";

/** The answer, or null if it takes longer than `limitMs` of real time. */
export function within<T>(limitMs: number, answer: Promise<T>): Promise<T | null> {
  return new Promise((resolve, reject) => {
    const cancel = systemClock.schedule(limitMs, () => resolve(null));
    answer.then(resolve, reject).finally(cancel);
  });
}
