/**
 * How an array was seen to stand and to give, as a whole: the plane that explains best what it gave
 * with the sun where it could be seen, and so tells what it gives elsewhere.
 *
 * The problem: a full battery holds an array back from noon on, so that an afternoon may never be
 * seen. A compass that was read 10° wrong, or a roof a little steeper than was thought, shows in
 * the morning, though, as a slope over the hours; carried on as it was last seen it is wrong by as
 * much the other way in the afternoon.
 *
 * What an array gives against the model is the product of its normal, longer or shorter than one
 * by what it gives more or less, with where the model's power comes from (`powerFrom`): linear in
 * three numbers. They are followed by recursive least squares (a Kalman filter whose state stands
 * still) from the settings' normal on, so that how far they can be trusted is known anywhere, too.
 */
import type { Direction } from "../solar/array.ts";

/**
 * How sure each of the three is: a symmetric matrix, three variances on its diagonal. [1]
 * `eastNorth` is the covariance of east and north, and so on.
 */
export interface PlaneDoubt {
  readonly eastEast: number;
  readonly eastNorth: number;
  readonly eastUp: number;
  readonly northNorth: number;
  readonly northUp: number;
  readonly upUp: number;
}

export interface SeenPlane {
  readonly normal: Direction;
  readonly doubt: PlaneDoubt;
}

/**
 * Before anything was seen: 7° of direction, or an eighth of the power. Ours, no source: nobody
 * counted how well such things are read from a roof.
 */
const FIRST_SPREAD = 0.12;
export const FIRST_VARIANCE = FIRST_SPREAD * FIRST_SPREAD;

/** Of one stretch of five minutes; those of an hour have much the same error. By trial. [1] */
const SAMPLE_VARIANCE = 0.04;
/** A stretch that is under what was expected may be a cloud's: it counts for less. By trial. [1] */
const UNDER_WEIGHT = 0.25;
/** Further under, it is a cloud's or a tree's, and counts for less and less. By trial. [1] */
const SHADE = 0.1;
/** No stretch lifts the plane as if it were more than this above it. By trial. [1] */
const OVER_MAX = 0.2;
/** Share of the way back to not knowing, for each stretch: arrays are moved, glass grows dull. */
const FADE = 0.002;
/** With a low sun much is hidden and little given: it counts for nothing; from here on, fully. */
const POWER_MIN_FRACTION = 0.1;
const POWER_FULL_FRACTION = 0.6;

const FRACTION_MIN = 0.05;
const FRACTION_MAX = 3;

export function initialPlane(normal: Direction): SeenPlane {
  return {
    normal,
    doubt: {
      eastEast: FIRST_VARIANCE,
      eastNorth: 0,
      eastUp: 0,
      northNorth: FIRST_VARIANCE,
      northUp: 0,
      upUp: FIRST_VARIANCE,
    },
  };
}

/** What the array gives of the model's power that comes from there. [1] > 0 */
export function planeFraction({ normal }: SeenPlane, from: Direction): number {
  return Math.min(FRACTION_MAX, Math.max(FRACTION_MIN, product(normal, from)));
}

/** How far that may be wrong: a standard deviation. [1] ≥ 0 */
export function planeSpread({ doubt }: SeenPlane, from: Direction): number {
  const { east, north, up } = from;
  const variance =
    doubt.eastEast * east * east +
    doubt.northNorth * north * north +
    doubt.upUp * up * up +
    2 * (doubt.eastNorth * east * north + doubt.eastUp * east * up + doubt.northUp * north * up);
  return Math.sqrt(Math.max(0, variance));
}

/** Five minutes in which an array was never held back. */
export interface PlaneSample {
  readonly from: Direction;
  /** Measured over model. [1] ≥ 0 */
  readonly fraction: number;
  /** The model's power over the array's peak. [1] > 0 */
  readonly powerFraction: number;
  /** How bright the last hours were. [1] 0…1 */
  readonly brightness: number;
}

export function learnPlane(plane: SeenPlane, sample: PlaneSample): SeenPlane {
  const { normal, doubt } = plane;
  const { east, north, up } = sample.from;
  const off = Math.min(FRACTION_MAX, sample.fraction) - product(normal, sample.from);
  const weight = weightOf(off, sample);
  if (weight === 0) return plane;
  // As in any text book: the doubt along the sample, the gain, what is left of the doubt.
  const alongEast = doubt.eastEast * east + doubt.eastNorth * north + doubt.eastUp * up;
  const alongNorth = doubt.eastNorth * east + doubt.northNorth * north + doubt.northUp * up;
  const alongUp = doubt.eastUp * east + doubt.northUp * north + doubt.upUp * up;
  const variance = Math.max(0, alongEast * east + alongNorth * north + alongUp * up);
  const gain = 1 / (variance + SAMPLE_VARIANCE / weight);
  const moved = gain * Math.min(OVER_MAX, off);
  const fade = FADE * weight;
  const kept = 1 - fade;
  const back = fade * FIRST_VARIANCE;
  return {
    normal: {
      east: normal.east + moved * alongEast,
      north: normal.north + moved * alongNorth,
      up: normal.up + moved * alongUp,
    },
    doubt: {
      eastEast: back + kept * (doubt.eastEast - gain * alongEast * alongEast),
      eastNorth: kept * (doubt.eastNorth - gain * alongEast * alongNorth),
      eastUp: kept * (doubt.eastUp - gain * alongEast * alongUp),
      northNorth: back + kept * (doubt.northNorth - gain * alongNorth * alongNorth),
      northUp: kept * (doubt.northUp - gain * alongNorth * alongUp),
      upUp: back + kept * (doubt.upUp - gain * alongUp * alongUp),
    },
  };
}

/** [1] 0…1 */
function weightOf(off: number, { powerFraction, brightness }: PlaneSample): number {
  const range = POWER_FULL_FRACTION - POWER_MIN_FRACTION;
  const height = Math.min(1, Math.max(0, (powerFraction - POWER_MIN_FRACTION) / range));
  const byHeight = height * height;
  if (off >= 0) return byHeight;
  const under = UNDER_WEIGHT * brightness * byHeight;
  const shade = Math.min(1, SHADE / -off);
  return under * shade * shade;
}

function product(one: Direction, other: Direction): number {
  return one.east * other.east + one.north * other.north + one.up * other.up;
}
