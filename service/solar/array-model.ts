/**
 * What an array would give under a clear sky, at any instant, at next to no cost: one solar day is
 * worked out on a grid when it is first asked for, and instants between are interpolated. Which
 * days are kept changes nothing but the time that an answer takes.
 */
import { arrayPotentialW, planeNormal, powerFrom } from "./array.ts";
import type { ArrayPlane, Direction } from "./array.ts";
import { clearSkyOf, DEFAULT_OPTICAL_DEPTH, DEFAULT_WATER_CM } from "./clear-sky.ts";
import { extraterrestrialWm2, meanDayOfYear } from "./extraterrestrial.ts";
import { sunPosition } from "./sun.ts";
import type { SunPosition } from "./sun.ts";
import { DEFAULT_ALBEDO_FRACTION } from "./transposition.ts";
import type { SkyIrradiance } from "./transposition.ts";

export interface Place {
  readonly latitudeDeg: number;
  readonly longitudeDeg: number;
  readonly elevationM: number;
}

const DAY_MS = 86_400_000;
const STEP_MS = 600_000;
const STEPS = DAY_MS / STEP_MS;
const MS_PER_DEG = 240_000;
/** Today, its neighbours and one more: an outlook looks at tomorrow while today goes on. */
const DAYS_KEPT = 4;
/** Light air; no source. [m/s] */
const WIND_MS = 1;

/** Where it stands at night matters to nobody. */
const DOWN: SunPosition = { azimuthDeg: 0, altitudeDeg: -90 };

interface SkyPoint {
  readonly sun: SunPosition;
  readonly sky: SkyIrradiance;
}

interface SkyDay {
  readonly day: number;
  /** undefined at night. */
  readonly points: readonly (SkyPoint | undefined)[];
  readonly extraterrestrialWm2: number;
  readonly airTemperatureC: number;
}

interface ArrayDay {
  readonly day: number;
  /** [W]; undefined at night. */
  readonly powerW: readonly (number | undefined)[];
  /** Where that comes from; undefined at night. */
  readonly from: readonly (Direction | undefined)[];
}

interface ArrayModel {
  readonly place: Place;
  readonly days: (ArrayDay | undefined)[];
}

const skies = new WeakMap<Place, (SkyDay | undefined)[]>();
const models = new WeakMap<ArrayPlane, ArrayModel>();

/**
 * DC power of a clean, unshaded array under a clear sky. [W] ≥ 0
 *
 * @param array - The same object at each call, with the same `place`: by them its days are kept.
 * @param wallMs - [ms since 1970-01-01T00:00:00Z]
 */
export function modelPowerW(array: ArrayPlane, place: Place, wallMs: number): number {
  const solarMs = wallMs + place.longitudeDeg * MS_PER_DEG;
  const day = Math.floor(solarMs / DAY_MS);
  const steps = (solarMs - day * DAY_MS) / STEP_MS;
  const { powerW } = arrayDay(array, place, day);
  const before = Math.floor(steps);
  const fromW = powerW[before] ?? 0;
  return fromW + (steps - before) * ((powerW[before + 1] ?? 0) - fromW);
}

/** The sun within five minutes of an instant, from the same grid. */
export function nearSun(place: Place, wallMs: number): SunPosition {
  const solarMs = wallMs + place.longitudeDeg * MS_PER_DEG;
  const day = Math.floor(solarMs / DAY_MS);
  const { points } = skyDay(place, day);
  return points[Math.round((solarMs - day * DAY_MS) / STEP_MS)]?.sun ?? DOWN;
}

/**
 * Where the model's power comes from, within five minutes of an instant, from the same grid; at
 * night straight ahead.
 */
export function nearPowerFrom(array: ArrayPlane, place: Place, wallMs: number): Direction {
  const solarMs = wallMs + place.longitudeDeg * MS_PER_DEG;
  const day = Math.floor(solarMs / DAY_MS);
  const { from } = arrayDay(array, place, day);
  return from[Math.round((solarMs - day * DAY_MS) / STEP_MS)] ?? planeNormal(array);
}

function arrayDay(array: ArrayPlane, place: Place, day: number): ArrayDay {
  let model = models.get(array);
  if (model?.place !== place) {
    model = { place, days: new Array<ArrayDay | undefined>(DAYS_KEPT) };
    models.set(array, model);
  }
  const slot = slotOf(day);
  const kept = model.days[slot];
  if (kept?.day === day) return kept;
  const made = makeArrayDay(array, skyDay(place, day));
  model.days[slot] = made;
  return made;
}

function skyDay(place: Place, day: number): SkyDay {
  let days = skies.get(place);
  if (days === undefined) {
    days = new Array<SkyDay | undefined>(DAYS_KEPT);
    skies.set(place, days);
  }
  const slot = slotOf(day);
  const kept = days[slot];
  if (kept?.day === day) return kept;
  const made = makeSkyDay(place, day);
  days[slot] = made;
  return made;
}

function slotOf(day: number): number {
  return ((day % DAYS_KEPT) + DAYS_KEPT) % DAYS_KEPT;
}

function makeSkyDay(place: Place, day: number): SkyDay {
  const startMs = day * DAY_MS - place.longitudeDeg * MS_PER_DEG;
  const dayOfYear = meanDayOfYear(startMs + DAY_MS / 2);
  const extraWm2 = extraterrestrialWm2(dayOfYear);
  const clearSky = clearSkyOf({
    elevationM: place.elevationM,
    opticalDepth: DEFAULT_OPTICAL_DEPTH,
    waterCm: DEFAULT_WATER_CM,
  });
  const points = Array.from({ length: STEPS + 1 }, (_, step) => {
    const sun = sunPosition(startMs + step * STEP_MS, place.latitudeDeg, place.longitudeDeg);
    return sun.altitudeDeg <= 0 ? undefined : { sun, sky: clearSky(sun.altitudeDeg, extraWm2) };
  });
  const airTemperatureC = usualAirC(place, dayOfYear);
  return { day, points, extraterrestrialWm2: extraWm2, airTemperatureC };
}

function makeArrayDay(array: ArrayPlane, day: SkyDay): ArrayDay {
  const powerW = day.points.map((point) =>
    point === undefined
      ? undefined
      : arrayPotentialW(array, {
          sun: point.sun,
          sky: point.sky,
          extraterrestrialWm2: day.extraterrestrialWm2,
          airTemperatureC: day.airTemperatureC,
          windMS: WIND_MS,
          albedoFraction: DEFAULT_ALBEDO_FRACTION,
        }),
  );
  const from = day.points.map((point) =>
    point === undefined
      ? undefined
      : powerFrom(array, {
          sun: point.sun,
          sky: point.sky,
          extraterrestrialWm2: day.extraterrestrialWm2,
          albedoFraction: DEFAULT_ALBEDO_FRACTION,
        }),
  );
  return { day: day.day, powerW, from };
}

/**
 * Daytime air by latitude, season and height, for want of a thermometer: 10 K of error move the
 * power by 4 %, which the site's learned response takes up. [°C] common practice, no source; 6.5 K
 * for each km is the standard atmosphere's.
 */
function usualAirC({ latitudeDeg, elevationM }: Place, dayOfYear: number): number {
  const farDeg = Math.abs(latitudeDeg);
  const yearC = 30 - 0.36 * farDeg;
  const hemisphere = latitudeDeg < 0 ? -1 : 1;
  const season = Math.cos((2 * Math.PI * (dayOfYear - 20)) / 365) * hemisphere;
  return yearC - 0.2 * farDeg * season - 0.0065 * elevationM;
}
