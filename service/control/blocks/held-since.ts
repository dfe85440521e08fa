/**
 * A condition held in time, as a memory of one instant: since when it has been true without a
 * break. Asking again does not restart it; one tick of the contrary cancels it.
 *
 * @returns Instant from which `isTrue` has held; `null` while it does not. [ms]
 */
export function heldSince(
  previousSinceMs: number | null,
  isTrue: boolean,
  nowMs: number,
): number | null {
  if (!isTrue) return null;
  return previousSinceMs ?? nowMs;
}

/**
 * Whether a condition has held for `forMs`. It switches at `now − since ≥ forMs`, so a delay of 0
 * switches in the tick in which the condition appears. The delay is looked at afresh each time: a
 * changed setting acts at once on a condition that is already running.
 */
export function hasHeld(sinceMs: number | null, forMs: number, nowMs: number): boolean {
  return sinceMs !== null && nowMs - sinceMs >= forMs;
}

/** Time until `hasHeld` is true if the condition lasts. [ms] ≥ 0; `null` while it does not hold. */
export function heldRemainingMs(
  sinceMs: number | null,
  forMs: number,
  nowMs: number,
): number | null {
  if (sinceMs === null) return null;
  return Math.max(0, forMs - (nowMs - sinceMs));
}
