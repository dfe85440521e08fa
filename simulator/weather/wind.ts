/**
 * Made-up wind for a turbine: a vector whose two parts wander independently, so that the speeds
 * are spread as Rayleigh's (Weibull's with shape 2), and a breeze that is strongest at three in the
 * afternoon.
 *
 * That wind speeds are spread so is common practice (J. F. Manwell, J. G. McGowan, A. L. Rogers,
 * "Wind Energy Explained", 2nd ed., 2.4.3; from memory). The mean, the persistence and the strength
 * of the breeze are ours, no source. Gusts within ten minutes are left out, and so are seasons and
 * fronts: each day stands alone.
 */
import type { Random } from "./random.ts";

const MEAN_MS = 4.5;
/** Of one part of the vector: a Rayleigh mean is √(π/2) times it. */
const SPREAD_MS = MEAN_MS / Math.sqrt(Math.PI / 2);
const STEP_MIN = 10;
/** Of a part with itself an hour later. [1] */
const HOURLY_CORRELATION = 0.85;
const STEP_CORRELATION = Math.exp((Math.log(HOURLY_CORRELATION) * STEP_MIN) / 60);
const BREEZE_FRACTION = 0.3;
const BREEZE_AT_MIN = 900;
const MINUTES_PER_DAY = 1440;

/** @returns Wind speed at each minute. [m/s] ≥ 0 */
export function windMinutes(
  minutes: number,
  minuteOfDay: (index: number) => number,
  random: Random,
): Float64Array {
  const east = wander(minutes, random);
  const north = wander(minutes, random);
  return Float64Array.from({ length: minutes }, (_, index) => {
    const angle = (2 * Math.PI * (minuteOfDay(index) - BREEZE_AT_MIN)) / MINUTES_PER_DAY;
    const breeze = 1 + BREEZE_FRACTION * Math.cos(angle);
    return breeze * Math.hypot(between(east, index), between(north, index));
  });
}

/** One part of the vector, every ten minutes. [m/s] */
function wander(minutes: number, random: Random): readonly number[] {
  const points: number[] = [SPREAD_MS * normal(random)];
  const freshMS = SPREAD_MS * Math.sqrt(1 - STEP_CORRELATION * STEP_CORRELATION);
  for (let at = 0; at <= minutes; at += STEP_MIN) {
    points.push(STEP_CORRELATION * (points.at(-1) ?? 0) + freshMS * normal(random));
  }
  return points;
}

function between(points: readonly number[], minute: number): number {
  const place = Math.floor(minute / STEP_MIN);
  const share = minute / STEP_MIN - place;
  return (1 - share) * (points[place] ?? 0) + share * (points[place + 1] ?? 0);
}

/** @source G. E. P. Box, M. E. Muller, Ann. Math. Statist. 29 (1958), 610; from memory. */
function normal(random: Random): number {
  const length = Math.sqrt(2 * random.exponential(1));
  return length * Math.cos(2 * Math.PI * random.uniform());
}
