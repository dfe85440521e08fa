/**
 * How much wider the range of what a held-back array could give is where the sun was not seen yet:
 * by the doubt of the plane that stands in for samples, and, with a low sun, by the hills and trees
 * that nobody has seen to hide it. They only take; the high end knows nothing of them.
 */
import type { SunPosition } from "../solar/sun.ts";
import type { ResponseNow } from "./site-response.ts";

/** In standard deviations of the plane. By trial, as in held-clearness.ts */
const LOW_SIGMAS = 0.8;
const HIGH_SIGMAS = 0.4;
/** Share that may be hidden of a sun on the horizon, and the height from which none is. By trial */
const HORIZON = 0.4;
const HORIZON_DEG = 30;

/** Factor on the low end. [1] 0…1 */
export function unseenLow(
  { unseenFraction, spreadFraction }: ResponseNow,
  { altitudeDeg }: SunPosition,
): number {
  const hidden = HORIZON * Math.max(0, 1 - altitudeDeg / HORIZON_DEG);
  return Math.max(0, 1 - unseenFraction * (LOW_SIGMAS * spreadFraction + hidden));
}

/** Factor on the high end. [1] ≥ 1 */
export function unseenHigh({ unseenFraction, spreadFraction }: ResponseNow): number {
  return 1 + unseenFraction * HIGH_SIGMAS * spreadFraction;
}
