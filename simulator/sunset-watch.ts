import { daylightOfDay } from "../service/solar/daylight.ts";
import type { Place } from "./days/day-file.ts";

export interface SunsetStep {
  /** [s] > 0 */
  readonly dtS: number;
  /** Start of the step. */
  readonly wallMs: number;
  readonly localDay: number;
  readonly localMinute: number;
}

const MINUTE_MS = 60_000;

/** @returns a function that tells whether the sun sets within a step; steps come in order. */
export function createSunsetWatch(place: Place): (step: SunsetStep) => boolean {
  let day = Number.NEGATIVE_INFINITY;
  let sunsetMs = Number.NaN;
  return ({ dtS, wallMs, localDay, localMinute }) => {
    if (localDay !== day) {
      day = localDay;
      const noonMs = wallMs + (720 - localMinute) * MINUTE_MS;
      sunsetMs = daylightOfDay(noonMs, place.latitudeDeg, place.longitudeDeg).sunsetMs ?? NaN;
    }
    return sunsetMs >= wallMs && sunsetMs < wallMs + dtS * 1000;
  };
}
