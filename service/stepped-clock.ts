/**
 * A clock that stands still until it is told to go on: the time of the demo, the rig, and any run
 * faster than life. Callbacks run in the order in which they are due, those of one instant in the
 * order in which they were asked for, so that a run with one seed is always the same run.
 */
import type { Clock } from "./clock.ts";
import { invariant } from "./control/invariant.ts";

export interface SteppedClock extends Clock {
  /**
   * Runs everything due until `monotonicMs`, each at its own instant. What a callback asks for
   * within that span runs too.
   */
  advanceTo(monotonicMs: number): void;
  /** When the next callback is due; null: none is waiting. [ms] */
  nextDueMs(): number | null;
}

/** More than this at one instant is a callback that asks for itself without delay, for ever. */
const CALLBACKS_AT_ONCE_MAX = 10_000;

interface Waiting {
  readonly dueMs: number;
  readonly order: number;
  readonly callback: () => void;
}

/** @param startWallMs - Wall time at monotonic 0. [ms since 1970-01-01T00:00:00Z] */
export function createSteppedClock(startWallMs: number): SteppedClock {
  const waiting = new Set<Waiting>();
  let nowMs = 0;
  let asked = 0;

  const next = (): Waiting | null => {
    let first: Waiting | null = null;
    for (const one of waiting) if (first === null || isBefore(one, first)) first = one;
    return first;
  };

  return {
    monotonicMs: () => nowMs,
    wallMs: () => startWallMs + nowMs,
    schedule(delayMs, callback) {
      asked += 1;
      const entry = { dueMs: nowMs + Math.max(0, delayMs), order: asked, callback };
      waiting.add(entry);
      return () => {
        waiting.delete(entry);
      };
    },
    advanceTo(toMs) {
      invariant(toMs >= nowMs, "a clock does not go back");
      let atOnce = 0;
      for (let due = next(); due !== null && due.dueMs <= toMs; due = next()) {
        waiting.delete(due);
        atOnce = due.dueMs === nowMs ? atOnce + 1 : 0;
        invariant(atOnce < CALLBACKS_AT_ONCE_MAX, "simulated time does not get on");
        nowMs = due.dueMs;
        due.callback();
      }
      nowMs = toMs;
    },
    nextDueMs: () => next()?.dueMs ?? null,
  };
}

function isBefore(a: Waiting, b: Waiting): boolean {
  return a.dueMs < b.dueMs || (a.dueMs === b.dueMs && a.order < b.order);
}
