/** Whether the machine's clock can be right: a small computer without a battery starts in 1970. */
import type { Clock } from "./clock.ts";

/** No site ran this before 2020-01-01T00:00:00Z. [ms] */
const EARLIEST_MS = 1_577_836_800_000;
/** 2100-01-01T00:00:00Z. [ms] */
const LATEST_MS = 4_102_444_800_000;

/**
 * @param wallMs - Milliseconds since 1970-01-01T00:00:00Z.
 * @returns False outside 2020…2099. A clock that is merely some hours off is not found out.
 */
export function isPlausible(wallMs: number): boolean {
  return wallMs >= EARLIEST_MS && wallMs < LATEST_MS;
}

/** @returns The wall clock, if it can be right; days of a record may be of any year. */
export function plausibleWallMs(of: {
  readonly clock: Clock;
  readonly recordedTime?: unknown;
}): number | null {
  const wallMs = of.clock.wallMs();
  return of.recordedTime !== undefined || isPlausible(wallMs) ? wallMs : null;
}
