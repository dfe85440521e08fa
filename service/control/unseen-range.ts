/**
 * How much lower the low end of what a held-back array could give is where the sun was not seen
 * yet: by the doubt of the plane that stands in for samples.
 */
import type { ResponseNow } from "./site-response.ts";

/** In standard deviations of the plane. By trial, as in held-clearness.ts */
const LOW_SIGMAS = 0.8;

/** Factor on the low end. [1] 0…1 */
export function unseenLow({ unseenFraction, spreadFraction }: ResponseNow): number {
  return Math.max(0, 1 - unseenFraction * LOW_SIGMAS * spreadFraction);
}
