/**
 * Whether a start that was called good would have been: the battery is carried on from the charge
 * that it really had at that time, by what sources and everyday use really came to, with the
 * appliance and without opportunity loads, which make room for it. It came true if the battery
 * stays on or above the floor all the way to sunset and is then where its owner wants it. Where the
 * generator ran meanwhile it did not: to tell a run for want of power from one for a test would be
 * guesswork.
 */
import type { CurveBattery } from "../outlook/curve.ts";
import { advance } from "./course.ts";
import { STEP_MS } from "./prospect.ts";

/** Ten minutes as they were measured. */
export interface SeenStep {
  readonly atMs: number;
  /** What the sources could give less everyday use, at the battery bus. [W] */
  readonly netW: number;
  /** At its beginning. [1] 0…1 */
  readonly socFraction: number;
  /** The generator ran. */
  readonly hasFuel: boolean;
}

export interface Wanted {
  readonly battery: CurveBattery;
  /** [1] 0…1 */
  readonly floorFraction: number;
  readonly sunsetTargetFraction: number;
}

/** @returns null: not all of it was seen. */
export function cameTrue(
  said: {
    readonly startMs: number;
    readonly sunsetMs: number;
    readonly stepW: readonly number[];
  },
  seen: readonly SeenStep[],
  { battery, floorFraction, sunsetTargetFraction }: Wanted,
): boolean | null {
  const fromMs = Math.floor(said.startMs / STEP_MS) * STEP_MS;
  const first = seen.findIndex(({ atMs }) => atMs === fromMs);
  const count = Math.ceil((said.sunsetMs - fromMs) / STEP_MS);
  const steps = seen.slice(first, first + count);
  const [begin] = steps;
  if (first < 0 || begin === undefined) return null;
  // Rising in time: as many as there should be end where they should only if none is missing.
  if (steps.length < count || steps.at(-1)?.atMs !== fromMs + (count - 1) * STEP_MS) return null;
  if (steps.some(({ hasFuel }) => hasFuel)) return false;
  const side = { netW: steps.map(({ netW }) => netW), loadsDownTo: [] };
  const isDay = steps.map(() => false);
  const prospect = { battery, isDay, tomorrowStep: -1, loadsW: { today: 0, tomorrow: 0 } };
  const state = { socFraction: begin.socFraction, wantWh: 0, loadsWh: 0 };
  let isBelow = false;
  for (let step = 0; step < steps.length; step += 1) {
    advance(state, { step, powerW: said.stepW[step] ?? 0 }, { side, prospect });
    isBelow ||= state.socFraction < floorFraction;
  }
  return !isBelow && state.socFraction >= sunsetTargetFraction;
}
