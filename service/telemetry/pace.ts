/**
 * How fast a value may change to be believed.
 *
 * A value is held against the last good one that is at least the limit's time old, so that two
 * messages in one instant may differ by as much as the limit allows, and no more however many
 * small steps there are. A real step is believed once three values in a row agree with one another.
 */

export interface PaceLimit {
  /** SI unit of the value; > 0 */
  readonly by: number;
  /** [ms] > 0 */
  readonly inMs: number;
}

export interface Pace {
  /** Last good value to measure from; null: none yet. */
  anchor: number | null;
  anchorAtMs: number;
  /** First of the values that agree with one another but not with the anchor. */
  step: number;
  stepAtMs: number;
  stepCount: number;
}

const AGREEING = 3;

export function createPace(): Pace {
  return { anchor: null, anchorAtMs: 0, step: 0, stepAtMs: 0, stepCount: 0 };
}

/** Notes the value, and says whether it is to be believed. */
export function paceAllows(
  pace: Pace,
  limit: PaceLimit,
  { value, atMs }: { readonly value: number; readonly atMs: number },
): boolean {
  const sinceMs = atMs - pace.anchorAtMs;
  if (pace.anchor === null || isWithin(limit, value - pace.anchor, sinceMs)) {
    if (pace.anchor === null || sinceMs >= limit.inMs) moveAnchor(pace, value, atMs);
    pace.stepCount = 0;
    return true;
  }
  const agrees = pace.stepCount > 0 && isWithin(limit, value - pace.step, atMs - pace.stepAtMs);
  if (agrees) {
    pace.stepCount += 1;
  } else {
    pace.step = value;
    pace.stepAtMs = atMs;
    pace.stepCount = 1;
  }
  if (pace.stepCount < AGREEING) return false;
  moveAnchor(pace, value, atMs);
  pace.stepCount = 0;
  return true;
}

/** A value that is none breaks the row of those that agree. */
export function breakStep(pace: Pace): void {
  pace.stepCount = 0;
}

function moveAnchor(pace: Pace, value: number, atMs: number): void {
  pace.anchor = value;
  pace.anchorAtMs = atMs;
}

function isWithin(limit: PaceLimit, difference: number, sinceMs: number): boolean {
  return Math.abs(difference) <= limit.by * Math.max(1, sinceMs / limit.inMs);
}
