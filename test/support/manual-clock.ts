/** A clock that moves only when told to, and refuses to go back. */
import type { Clock } from "../../service/clock.ts";

export interface ManualClock extends Clock {
  /** Runs everything that falls due within the next `ms`, each at its own instant. */
  advance(ms: number): void;
  /** Moves the wall clock alone, as an owner or a time server does. */
  setWallMs(wallMs: number): void;
}

/** 2026-06-15T10:00:00Z. */
export const DEFAULT_WALL_MS = Date.UTC(2026, 5, 15, 10);

interface Waiting {
  readonly dueMs: number;
  readonly callback: () => void;
}

export function createManualClock(wallMs = DEFAULT_WALL_MS): ManualClock {
  let nowMs = 1_000_000;
  let offsetMs = wallMs - nowMs;
  const waiting = new Set<Waiting>();

  const firstDue = (untilMs: number): Waiting | null => {
    let first: Waiting | null = null;
    for (const one of waiting) {
      if (one.dueMs <= untilMs && (first === null || one.dueMs < first.dueMs)) first = one;
    }
    return first;
  };

  return {
    monotonicMs: () => nowMs,
    wallMs: () => nowMs + offsetMs,
    schedule(delayMs, callback) {
      if (!(delayMs >= 0)) throw new Error(`delay ${delayMs} is in the past`);
      const one: Waiting = { dueMs: nowMs + delayMs, callback };
      waiting.add(one);
      return () => waiting.delete(one);
    },
    advance(ms) {
      if (!(ms >= 0)) throw new Error(`the clock does not go back (${ms} ms)`);
      const untilMs = nowMs + ms;
      for (let due = firstDue(untilMs); due !== null; due = firstDue(untilMs)) {
        waiting.delete(due);
        nowMs = Math.max(nowMs, due.dueMs);
        due.callback();
      }
      // A callback that took its own time may have gone further.
      nowMs = Math.max(nowMs, untilMs);
    },
    setWallMs(newWallMs) {
      offsetMs = newWallMs - nowMs;
    },
  };
}
