import { daylightOfDay } from "../solar/daylight.ts";
import type { SunMemory } from "./memory.ts";
import type { Observation } from "./observation.ts";
import type { ControlSettings } from "./settings.ts";

const MS_PER_MINUTE = 60_000;
const NOON_MINUTE = 12 * 60;

/** Sun times of the local day, worked out once a day; null while the clock is in doubt. */
export function sunOfToday(
  memory: SunMemory | null,
  observation: Observation,
  settings: ControlSettings,
): SunMemory | null {
  if (!observation.isWallClockPlausible) return null;
  const { localDay, localMinute, wallMs } = observation;
  if (memory !== null && memory.localDay === localDay) return memory;
  const noonMs = wallMs + (NOON_MINUTE - localMinute) * MS_PER_MINUTE;
  const day = daylightOfDay(noonMs, settings.latitudeDeg, settings.longitudeDeg);
  const { sunriseMs, sunsetMs, isUpAtNoon } = day;
  return { localDay, sunriseMs, sunsetMs, isUpAtNoon };
}

/** Whether the sun is up; null while the clock is in doubt. */
export function isSunUp(sun: SunMemory | null, wallMs: number): boolean | null {
  if (sun === null) return null;
  if (sun.sunriseMs === null || sun.sunsetMs === null) return sun.isUpAtNoon;
  return wallMs >= sun.sunriseMs && wallMs < sun.sunsetMs;
}

/**
 * How long before sunset the band stops lending: what is lent then is not given back today.
 * Ours, no source; an outlook on the rest of the day can do better.
 */
const LENDS_UNTIL_BEFORE_SUNSET_MS = 2 * 3_600_000;

/** Whether enough of the day is left to give back what the band lends; null while in doubt. */
export function mayLendNow(sun: SunMemory | null, wallMs: number): boolean | null {
  const isUp = isSunUp(sun, wallMs);
  const sunsetMs = sun?.sunsetMs ?? null;
  if (isUp !== true || sunsetMs === null) return isUp;
  return wallMs < sunsetMs - LENDS_UNTIL_BEFORE_SUNSET_MS;
}
