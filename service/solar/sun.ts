import { getPosition, getTimes } from "suncalc";

declare module "suncalc" {
  /** It asks the instant for nothing but its `valueOf`; a `Date` for each takes a third more. */
  export function getPosition(atMs: number, lat: number, lng: number): Position;
}

const DEG_PER_RAD = 180 / Math.PI;

export interface SunPosition {
  /** Clockwise from north. [deg] 0…360 */
  readonly azimuthDeg: number;
  /** As seen, with refraction; below the horizon the true altitude. [deg] −90…90 */
  readonly altitudeDeg: number;
}

export interface SunTimes {
  /** Upper limb on the horizon; null if it does not cross it on that day. */
  readonly sunriseMs: number | null;
  readonly sunsetMs: number | null;
  readonly transitMs: number;
  readonly isAlwaysUp: boolean;
}

/**
 * Refraction that the library adds at and below the horizon. Below it there is nothing to see, so
 * it is taken off again. [deg]
 */
const HORIZON_REFRACTION_DEG = (0.0002967 / Math.tan(0.00312536 / 0.08901179)) * DEG_PER_RAD;

/**
 * Where the sun stands.
 *
 * Meeus' short series, as the `suncalc` package carries them: within 0.02° of the reference
 * algorithm between 1990 and 2100, a few thousandths in practice. Standard air at sea level is
 * assumed for the refraction; at 2000 m it is a fifth less, which is 0.1° at the horizon only.
 *
 * @param atMs - Instant. [ms since 1970-01-01T00:00:00Z]
 * @source J. Meeus, "Astronomical Algorithms", ch. 16 and 25, through suncalc 2
 * @check test/checks/sun.test.ts
 */
export function sunPosition(atMs: number, latitudeDeg: number, longitudeDeg: number): SunPosition {
  // In whole milliseconds, as a `Date` would have it.
  const { azimuth, altitude } = getPosition(Math.trunc(atMs), latitudeDeg, longitudeDeg);
  const isBelow = altitude < HORIZON_REFRACTION_DEG;
  return {
    azimuthDeg: azimuth,
    altitudeDeg: isBelow ? altitude - HORIZON_REFRACTION_DEG : altitude,
  };
}

/**
 * Rise, transit and set of the solar day whose transit is nearest to `noonMs`.
 *
 * @param noonMs - An instant within a few hours of local noon. [ms]
 * @source J. Meeus, "Astronomical Algorithms", ch. 15, through suncalc 2; horizon −0.833°
 * @check test/checks/sun.test.ts
 */
export function sunTimes(noonMs: number, latitudeDeg: number, longitudeDeg: number): SunTimes {
  const times = getTimes(toDate(noonMs), latitudeDeg, longitudeDeg);
  return {
    sunriseMs: times.sunrise?.getTime() ?? null,
    sunsetMs: times.sunset?.getTime() ?? null,
    transitMs: times.solarNoon.getTime(),
    isAlwaysUp: times.alwaysUp === true,
  };
}

/** The only `Date` of this folder: a wrapper around a given number, which reads no clock. */
function toDate(atMs: number): Date {
  // eslint-disable-next-line no-restricted-globals -- suncalc takes an instant as a Date only
  return new Date(atMs);
}
