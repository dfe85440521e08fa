/**
 * The loop at its own pace: messages never drive it, they only may ask for the next tick early.
 */
import type { Clock } from "./clock.ts";

export interface TickerOptions {
  readonly clock: Clock;
  readonly tickMs: number;
  readonly onTick: () => void;
}

export interface Ticker {
  readonly start: () => void;
  readonly stop: () => void;
  /** From the next regular tick on. [ms] */
  readonly setPace: (tickMs: number) => void;
  /** Asks for a tick now; many requests make one tick. */
  readonly requestEarly: () => void;
  readonly tickCount: () => number;
  /** Ticks that began later than half a tick after they were due. */
  readonly overrunCount: () => number;
  /** Time since the start of the last tick; null before the first. [ms] */
  readonly lastTickAgeMs: () => number | null;
}

/** Two ticks never start closer than this, whatever asks for them. [ms] */
const SPACING_MIN_MS = 20;

export function createTicker({ clock, tickMs: firstTickMs, onTick }: TickerOptions): Ticker {
  let tickMs = firstTickMs;
  let isRunning = false;
  let dueMs = 0;
  let lastTickMs: number | null = null;
  let tickCount = 0;
  let overrunCount = 0;
  let isEarlyPlanned = false;
  let cancelRegular = (): void => undefined;
  let cancelEarly = (): void => undefined;

  const run = (): void => {
    isEarlyPlanned = false;
    cancelEarly();
    lastTickMs = clock.monotonicMs();
    tickCount += 1;
    onTick();
  };

  const planRegular = (): void => {
    cancelRegular = clock.schedule(Math.max(0, dueMs - clock.monotonicMs()), () => {
      const startMs = clock.monotonicMs();
      if (startMs - dueMs > tickMs / 2) overrunCount += 1;
      // The grid is kept; ticks that were slept through are not made up for.
      dueMs += tickMs * Math.max(1, Math.ceil((startMs - dueMs + SPACING_MIN_MS) / tickMs));
      const isTooClose = lastTickMs !== null && startMs - lastTickMs < SPACING_MIN_MS;
      if (!isTooClose) run();
      if (isRunning) planRegular();
    });
  };

  return {
    start() {
      isRunning = true;
      dueMs = clock.monotonicMs();
      planRegular();
    },
    stop() {
      isRunning = false;
      cancelRegular();
      cancelEarly();
    },
    setPace(nextTickMs) {
      tickMs = nextTickMs;
    },
    requestEarly() {
      if (!isRunning || isEarlyPlanned) return;
      isEarlyPlanned = true;
      const sinceMs = lastTickMs === null ? SPACING_MIN_MS : clock.monotonicMs() - lastTickMs;
      cancelEarly = clock.schedule(Math.max(0, SPACING_MIN_MS - sinceMs), run);
    },
    tickCount: () => tickCount,
    overrunCount: () => overrunCount,
    lastTickAgeMs: () => (lastTickMs === null ? null : clock.monotonicMs() - lastTickMs),
  };
}
