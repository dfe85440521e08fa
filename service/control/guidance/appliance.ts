/** Appliances that people start themselves: the service only tells when it is a good time. */
import type { DayWindow } from "../settings.ts";

export interface ProfilePiece {
  /** AC. [W] > 0 */
  readonly powerW: number;
  /** [ms] > 0 */
  readonly forMs: number;
}

export interface Appliance {
  readonly id: string;
  readonly label: string;
  /** What it draws once started, piece after piece; at least one, and 12 h at most. */
  readonly profile: readonly ProfilePiece[];
  /** It has to be done by then on the local day on which it was started; null: any time. [min] */
  readonly latestFinishMinute: number | null;
  /** It runs within one of these from start to end; empty: at any hour. */
  readonly windows: readonly DayWindow[];
}

/** From its start to its end. [ms] > 0 */
export function runMs({ profile }: Appliance): number {
  return profile.reduce((sum, { forMs }) => sum + forMs, 0);
}

/** Greatest AC power. [W] > 0 */
export function greatestPowerW({ profile }: Appliance): number {
  return Math.max(...profile.map(({ powerW }) => powerW));
}

const MS_PER_HOUR = 3_600_000;

/** AC, for one run. [Wh] > 0 */
export function runWh({ profile }: Appliance): number {
  return profile.reduce((sum, { powerW, forMs }) => sum + (powerW * forMs) / MS_PER_HOUR, 0);
}

/** A stretch of a run as the clock on the wall shows it. */
export interface ClockStretch {
  /** Days since 1970-01-01 of the local date. */
  readonly fromDay: number;
  /** [min] 0…1439 */
  readonly fromMinute: number;
  /** Of its last minute. */
  readonly toDay: number;
  readonly toMinute: number;
}

/**
 * Whether a run may lie there. A run that goes on past midnight may do so only where no hour is
 * named by which it has to be done, and within a window that spans midnight.
 */
export function isAllowed(
  { windows, latestFinishMinute }: Pick<Appliance, "windows" | "latestFinishMinute">,
  run: ClockStretch,
): boolean {
  const isLate =
    latestFinishMinute !== null && (run.toDay > run.fromDay || run.toMinute >= latestFinishMinute);
  if (isLate) return false;
  return windows.length === 0 || windows.some((window) => holds(window, run));
}

const DAY_MINUTES = 1440;

function holds({ fromMinute, toMinute }: DayWindow, run: ClockStretch): boolean {
  const lengthMinutes = (toMinute - fromMinute + DAY_MINUTES) % DAY_MINUTES || DAY_MINUTES;
  const beganAgo = (run.fromMinute - fromMinute + DAY_MINUTES) % DAY_MINUTES;
  const days = run.toDay - run.fromDay;
  const takes = days * DAY_MINUTES + run.toMinute - run.fromMinute;
  return beganAgo + takes < lengthMinutes;
}
