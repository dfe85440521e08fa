import { sunTimes } from "./sun.ts";

export interface Daylight {
  /** null: the sun does not rise on that day. [ms since 1970-01-01T00:00:00Z] */
  readonly sunriseMs: number | null;
  /** null: the sun does not set on that day. */
  readonly sunsetMs: number | null;
  /** Tells the polar day from the polar night where there is neither rise nor set. */
  readonly isUpAtNoon: boolean;
}

/**
 * Sunrise and sunset of the local day that has `noonMs` near its middle.
 *
 * Asking by the local noon, not by a date in UTC, is what gives a site far from Greenwich its own
 * day: at UTC−5 the evening of 1 January is already the 2nd in UTC.
 *
 * @param noonMs - An instant near local noon of the day that is meant. [ms]
 * @check test/checks/sun.test.ts
 */
export function daylightOfDay(noonMs: number, latitudeDeg: number, longitudeDeg: number): Daylight {
  const times = sunTimes(noonMs, latitudeDeg, longitudeDeg);
  return {
    sunriseMs: times.sunriseMs,
    sunsetMs: times.sunsetMs,
    isUpAtNoon: times.isAlwaysUp || times.sunriseMs !== null,
  };
}
