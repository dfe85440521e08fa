/** Whether the machine's clock can be right: a small computer without a battery starts in 1970. */
import type { Clock } from "./clock.ts";

/** No site ran this before 2020-01-01T00:00:00Z. [ms] */
const EARLIEST_MS = 1_577_836_800_000;
/** 2100-01-01T00:00:00Z. [ms] */
const LATEST_MS = 4_102_444_800_000;
/** A clock may be put back by so much without its time being doubted. [ms] Ours, no source */
const PUT_BACK_MAX_MS = 86_400_000;

/**
 * @param wallMs - Milliseconds since 1970-01-01T00:00:00Z.
 * @returns False outside 2020…2099. A clock that is merely some hours off is not found out.
 */
export function isPlausible(wallMs: number): boolean {
  return wallMs >= EARLIEST_MS && wallMs < LATEST_MS;
}

/** Of a record, in a demo or a rig. */
export function isTimeSimulated({ recordedTime }: { readonly recordedTime?: unknown }): boolean {
  return recordedTime !== undefined;
}

/**
 * @param of.restored - What the run before remembered: time has gone on since then.
 * @returns The wall clock, if it can be right; days of a record may be of any year.
 */
export function plausibleWallMs(of: {
  readonly clock: Pick<Clock, "wallMs">;
  readonly recordedTime?: unknown;
  readonly restored?: { readonly wallMs: number } | null;
}): number | null {
  const wallMs = of.clock.wallMs();
  if (isTimeSimulated(of)) return wallMs;
  const savedMs = of.restored?.wallMs ?? -Infinity;
  // What was saved by a clock that cannot have been right says nothing about this one.
  const isBehind = isPlausible(savedMs) && wallMs < savedMs - PUT_BACK_MAX_MS;
  return isPlausible(wallMs) && !isBehind ? wallMs : null;
}
