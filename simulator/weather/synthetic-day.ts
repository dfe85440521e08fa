import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { meanDayOfYear } from "../../service/solar/extraterrestrial.ts";
import type { DaySeries } from "../days/day-file.ts";
import { cloudedSky } from "./clouded-sky.ts";
import { cloudMinutes } from "./cloud.ts";
import type { SkyKind } from "./cloud.ts";
import { householdMinutes } from "./household.ts";
import { createRandom } from "./random.ts";
import { windMinutes } from "./wind.ts";

export interface SyntheticDayOptions {
  readonly site: SiteSettings;
  /** YYYY-MM-DD by the site's clock. */
  readonly localDate: string;
  /** Same seed, same day. [1] an integer */
  readonly seed: number;
  readonly kind: SkyKind;
}

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
/** Where nothing lives on wind it only cools the arrays; no source. [m/s] */
const LIGHT_AIR_MS = 1.5;

/**
 * A local day of made-up weather and use at the site's own place, in minutes: 1440 of them, or 60
 * more or fewer when the clock changes.
 */
export function syntheticDay(options: SyntheticDayOptions): DaySeries {
  const { site, localDate, seed, kind } = options;
  const { startMs, minutes, minuteOfDay } = localMinutes(site.timeZone, localDate);
  const random = createRandom(seed);
  const clearIndex = cloudMinutes(kind, minutes, random);
  const household = householdMinutes(random);
  const air = airTemperature(site, startMs, random.between(-3, 3));
  const hasTurbine = site.control.sources.some(({ kind: source }) => source === "wind");
  // A stream of its own: the same seed is the same sun, with and without a turbine.
  const blows = hasTurbine ? windMinutes(minutes, minuteOfDay, createRandom(~seed)) : null;
  const timesMs = new Float64Array(minutes);
  const columns = new Map<string, Float64Array>();
  const column = (name: string): Float64Array => {
    const values = new Float64Array(minutes);
    columns.set(name, values);
    return values;
  };
  const [base, global, beam] = [column("base_load_w"), column("ghi_w_m2"), column("dni_w_m2")];
  const [diffuse, airC, wind] = [
    column("dhi_w_m2"),
    column("air_temperature_c"),
    column("wind_speed_m_s"),
  ];
  for (let i = 0; i < minutes; i += 1) {
    const atMs = startMs + i * MINUTE_MS;
    const sky = cloudedSky(site.control, atMs + MINUTE_MS / 2, clearIndex[i] ?? 1);
    timesMs[i] = atMs;
    base[i] = household[minuteOfDay(i)] ?? 0;
    global[i] = sky.globalWm2;
    beam[i] = sky.beamNormalWm2;
    diffuse[i] = sky.diffuseWm2;
    airC[i] = air(minuteOfDay(i));
    wind[i] = blows?.[i] ?? LIGHT_AIR_MS;
  }
  return {
    name: `synthetic:${kind}:${localDate}:${seed}`,
    site: site.id,
    source: `made up: ${kind} sky, seed ${seed}`,
    place: null,
    stepMs: MINUTE_MS,
    timesMs,
    columns,
    gaps: [],
  };
}

/** Made-up days without end, each with a seed of its own. */
export function* syntheticDays(first: SyntheticDayOptions): Generator<DaySeries> {
  const startMs = Date.parse(`${first.localDate}T00:00:00Z`);
  for (let day = 0; ; day += 1) {
    const localDate = new Date(startMs + day * DAY_MS).toISOString().slice(0, 10);
    yield syntheticDay({ ...first, localDate, seed: first.seed + day });
  }
}

/** By season and hour only: coldest in January in the north, ±5 K within the day; no source. */
function airTemperature(
  site: SiteSettings,
  startMs: number,
  offsetK: number,
): (minuteOfDay: number) => number {
  const hemisphere = site.control.latitudeDeg < 0 ? -1 : 1;
  const season = Math.cos((2 * Math.PI * (meanDayOfYear(startMs) - 15)) / 365);
  const seaLevelC = 15 - 9 * hemisphere * season;
  const meanC = seaLevelC - 0.0055 * site.control.elevationM + offsetK;
  return (minute) => meanC - 5 * Math.cos((2 * Math.PI * (minute - 180)) / 1440);
}

/** The local day's first instant, its length, and the clock time of each of its minutes. */
function localMinutes(
  timeZone: string,
  localDate: string,
): {
  readonly startMs: number;
  readonly minutes: number;
  readonly minuteOfDay: (index: number) => number;
} {
  const calendar = createLocalCalendar(timeZone);
  const day = Math.round(Date.parse(`${localDate}T00:00:00Z`) / DAY_MS);
  const startMs = firstMinuteOf(day);
  const minutes = (firstMinuteOf(day + 1) - startMs) / MINUTE_MS;
  return {
    startMs,
    minutes,
    minuteOfDay: (index) => calendar(startMs + index * MINUTE_MS).localMinute,
  };

  function firstMinuteOf(localDay: number): number {
    // Zones lie within 14 h of UTC, so the day's first minute is somewhere in these 30 h.
    let before = localDay * DAY_MS - 15 * 60 * MINUTE_MS;
    let after = localDay * DAY_MS + 15 * 60 * MINUTE_MS;
    while (after - before > MINUTE_MS) {
      const middle = before + Math.floor((after - before) / (2 * MINUTE_MS)) * MINUTE_MS;
      if (calendar(middle).localDay >= localDay) after = middle;
      else before = middle;
    }
    return after;
  }
}
