/**
 * What a recorded or generated day gives the simulated shed at each instant: what every array could
 * deliver at the battery bus, everyday use, and the temperature of the battery.
 *
 * Worked out once for the whole day, so that replaying it again with other settings costs nothing.
 * Within a row's interval the values are constant.
 */
import type { OffsetChange } from "../config/local-calendar.ts";
import { UserError } from "../service/errors.ts";
import { arrayPotentialW, lightOnPlaneWm2 } from "../service/solar/array.ts";
import { erbs } from "../service/solar/decomposition.ts";
import { extraterrestrialWm2, meanDayOfYear } from "../service/solar/extraterrestrial.ts";
import { sunPosition } from "../service/solar/sun.ts";
import { DEFAULT_ALBEDO_FRACTION } from "../service/solar/transposition.ts";
import type { SkyIrradiance } from "../service/solar/transposition.ts";
import { GAP_MAX_MS, INFERRED_COLUMN } from "./days/day-file.ts";
import type { DaySeries, Place } from "./days/day-file.ts";
import { recordedOffsets } from "./recorded-calendar.ts";
import { obstructedSky } from "./weather/obstructed-sky.ts";
import type { ArrayPlantSettings, PlantSettings } from "./plant/plant-settings.ts";
import { windTurbineW } from "./plant/wind-turbine.ts";
import type { WindPlantSettings } from "./plant/wind-turbine.ts";

export interface DayFeed {
  readonly name: string;
  /** The sun's place: the recording's, where it says so, else the site's. */
  readonly place: Place;
  /** Local time by the recording's own stamps; null: by the site's time zone. */
  readonly utcOffsets: readonly OffsetChange[] | null;
  readonly timesMs: Float64Array;
  /** Usual distance of two rows: a longer simulated step would pass some by. [ms] */
  readonly stepMs: number;
  readonly endMs: number;
  /** One for each array. [W] ≥ 0 */
  readonly arrayPotentialW: readonly Float64Array[];
  /** On the irradiance sensor; null: there is none, or the day tells of no light. [W/m²] ≥ 0 */
  readonly irradianceWm2: Float64Array | null;
  /** One for each turbine in the wind. [W] ≥ 0 */
  readonly windPotentialW: readonly Float64Array[];
  readonly baseAcW: Float64Array;
  readonly batteryTemperatureC: Float64Array;
  /** Of the arrays' potential, what was inferred from a throttled record; null: nothing. [1] */
  readonly inferredFraction: Float64Array | null;
  /** Where the record says that the generator gave power, it is called again; null: never. [W] */
  readonly generatorW: Float64Array | null;
}

export interface FeedOptions {
  readonly plant: Pick<
    PlantSettings,
    "arrays" | "charger" | "irradianceSensor" | "obstruction" | "wind"
  >;
  readonly sitePlace: Place;
  /** Holes over 10 min are filled with the last value; without this they are refused. */
  readonly mayBridge: boolean;
}

/** A shed keeps its battery about here when the record does not tell. [°C] no source */
const SHED_C = 15;
const DEFAULT_AIR_C = 15;
/** Light air; no source. [m/s] */
const DEFAULT_WIND_MS = 1;

/** @throws UserError if the day lacks what a replay needs, or has holes. */
export function dayFeed(series: DaySeries, options: FeedOptions): DayFeed {
  const place = series.place ?? options.sitePlace;
  const { timesMs } = series;
  const rows = timesMs.length;
  if (!options.mayBridge) refuseGaps(series);
  const lastMs = timesMs[rows - 1] ?? 0;
  return {
    name: series.name,
    place: { latitudeDeg: place.latitudeDeg, longitudeDeg: place.longitudeDeg },
    utcOffsets: recordedOffsets(series, options.sitePlace),
    timesMs,
    stepMs: series.stepMs,
    endMs: series.endMs ?? lastMs + series.stepMs,
    arrayPotentialW: potentials(series, options, place),
    irradianceWm2: irradiances(series, options, place),
    windPotentialW: windPotentials(series, options),
    baseAcW: baseLoad(series, options),
    batteryTemperatureC:
      optional(series, "battery_temperature_c", options) ?? new Float64Array(rows).fill(SHED_C),
    inferredFraction: series.columns.get(INFERRED_COLUMN) ?? null,
    generatorW: optional(series, "generator_power_w", options),
  };
}

function potentials(
  series: DaySeries,
  options: FeedOptions,
  place: Place,
): readonly Float64Array[] {
  const { arrays, charger, obstruction } = options.plant;
  if (arrays.length === 0) return [];
  const total = optional(series, "pv_potential_w", options);
  if (total !== null) {
    const peakW = arrays.reduce((sum, array) => sum + array.peakW, 0);
    return arrays.map((array) =>
      total.map((powerW) => Math.max(0, (powerW * array.peakW) / peakW)),
    );
  }
  const skyOf = skyReader(series, options);
  const air = optional(series, "air_temperature_c", options);
  const wind = optional(series, "wind_speed_m_s", options);
  const found = arrays.map(() => new Float64Array(series.timesMs.length));
  for (let row = 0; row < series.timesMs.length; row += 1) {
    if (skyOf.isDark(row)) continue;
    const atMs = (series.timesMs[row] ?? 0) + series.stepMs / 2;
    const sun = sunPosition(atMs, place.latitudeDeg, place.longitudeDeg);
    const outsideWm2 = extraterrestrialWm2(meanDayOfYear(atMs));
    const weather = {
      sun,
      sky: obstructedSky(skyOf.at(row, 90 - sun.altitudeDeg, outsideWm2), sun, obstruction),
      extraterrestrialWm2: outsideWm2,
      airTemperatureC: air?.[row] ?? DEFAULT_AIR_C,
      windMS: Math.max(0, wind?.[row] ?? DEFAULT_WIND_MS),
      albedoFraction: DEFAULT_ALBEDO_FRACTION,
    };
    fillRow(found, row, (array) => arrayPotentialW(array, weather) * charger.efficiencyFraction);
  }
  return found;

  function fillRow(
    columns: readonly Float64Array[],
    row: number,
    powerOf: (array: ArrayPlantSettings) => number,
  ): void {
    for (const [i, array] of arrays.entries()) {
      const column = columns[i];
      if (column !== undefined) column[row] = powerOf(array);
    }
  }
}

function irradiances(series: DaySeries, options: FeedOptions, place: Place): Float64Array | null {
  const sensor = options.plant.irradianceSensor;
  if (sensor === null || !series.columns.has("ghi_w_m2")) return null;
  const skyOf = skyReader(series, options);
  return series.timesMs.map((startMs, row) => {
    if (skyOf.isDark(row)) return 0;
    const atMs = startMs + series.stepMs / 2;
    const sun = sunPosition(atMs, place.latitudeDeg, place.longitudeDeg);
    const extraterrestrial = extraterrestrialWm2(meanDayOfYear(atMs));
    return lightOnPlaneWm2(sensor, {
      sun,
      sky: skyOf.at(row, 90 - sun.altitudeDeg, extraterrestrial),
      extraterrestrialWm2: extraterrestrial,
      albedoFraction: DEFAULT_ALBEDO_FRACTION,
    });
  });
}

function windPotentials(series: DaySeries, options: FeedOptions): readonly Float64Array[] {
  const { wind } = options.plant;
  if (wind.length === 0) return [];
  const windMS = optional(series, "wind_speed_m_s", options);
  if (windMS === null) throw noWind(series, wind);
  const airC = optional(series, "air_temperature_c", options);
  return wind.map((turbine) =>
    windMS.map((speedMS, row) =>
      windTurbineW(turbine, Math.max(0, speedMS), airC?.[row] ?? DEFAULT_AIR_C),
    ),
  );
}

interface SkyReader {
  /** No light at all: half of all rows, for which nothing need be worked out. */
  isDark(row: number): boolean;
  at(row: number, zenithDeg: number, outsideWm2: number): SkyIrradiance;
}

/** The three kinds of light as recorded, or the global one split up where it stands alone. */
function skyReader(series: DaySeries, options: FeedOptions): SkyReader {
  const global = optional(series, "ghi_w_m2", options);
  const beam = optional(series, "dni_w_m2", options);
  const diffuse = optional(series, "dhi_w_m2", options);
  if (global === null) throw noPotential(series);
  // Sensors read a little under zero at night.
  const lit = (column: Float64Array | null, row: number) => Math.max(0, column?.[row] ?? 0);
  return {
    isDark: (row) => lit(global, row) + lit(beam, row) + lit(diffuse, row) === 0,
    at(row, zenithDeg, outsideWm2) {
      const globalWm2 = lit(global, row);
      if (beam === null || diffuse === null) {
        const { beamNormalWm2, diffuseWm2 } = erbs(globalWm2, zenithDeg, outsideWm2);
        return { globalWm2, beamNormalWm2, diffuseWm2 };
      }
      return { globalWm2, beamNormalWm2: lit(beam, row), diffuseWm2: lit(diffuse, row) };
    },
  };
}

/** Everyday use: recorded as such, or all use less what was diverted by metered loads. */
function baseLoad(series: DaySeries, options: FeedOptions): Float64Array {
  const base = optional(series, "base_load_w", options);
  if (base !== null) return base.map((powerW) => Math.max(0, powerW));
  const total = optional(series, "total_load_w", options);
  if (total === null) {
    throw new UserError([
      {
        code: "day-no-load",
        where: series.name,
        expected: "a column base_load_w, or total_load_w",
      },
    ]);
  }
  const diverted = [...series.columns].filter(([name]) => name.startsWith("load_"));
  return total.map((powerW, row) => {
    const used = diverted.reduce((sum, [, values]) => sum + (values[row] || 0), 0);
    return Math.max(0, powerW - used);
  });
}

function optional(series: DaySeries, name: string, options: FeedOptions): Float64Array | null {
  const column = series.columns.get(name);
  if (column === undefined || column.every((value) => Number.isNaN(value))) return null;
  return filled(column, (fromRow, toRow) => {
    const fromMs = series.timesMs[fromRow] ?? 0;
    const toMs = series.timesMs[toRow] ?? 0;
    if (options.mayBridge || toMs - fromMs <= GAP_MAX_MS) return;
    throw gapError(series.name, `${name} is empty`, { fromMs, toMs });
  });
}

/** Empty fields take the value before them, for 10 min at most unless bridging is asked for. */
function filled(column: Float64Array, onHole: (fromRow: number, toRow: number) => void) {
  const values = column.slice();
  let knownRow = column.findIndex((value) => !Number.isNaN(value));
  values.fill(column[knownRow] ?? 0, 0, knownRow);
  if (knownRow > 0) onHole(0, knownRow);
  for (let row = knownRow + 1; row < values.length; row += 1) {
    if (Number.isNaN(values[row])) values[row] = values[row - 1] ?? 0;
    else {
      if (row - knownRow > 1) onHole(knownRow, row);
      knownRow = row;
    }
  }
  if (knownRow < values.length - 1) onHole(knownRow, values.length - 1);
  return values;
}

function refuseGaps(series: DaySeries): void {
  const gap = series.gaps[0];
  if (gap !== undefined) throw gapError(series.name, "no rows", gap);
}

export function gapError(
  where: string,
  what: string,
  gap: { readonly fromMs: number; readonly toMs: number },
): UserError {
  const minutes = Math.round((gap.toMs - gap.fromMs) / 60_000);
  const from = new Date(gap.fromMs).toISOString();
  return new UserError([
    {
      code: "day-gap",
      where,
      found: `${what} for ${minutes} min from ${from}`,
      expected: "no hole over 10 min",
      suggestion: "--bridge holds the last value across it",
    },
  ]);
}

function noWind(series: DaySeries, turbines: readonly WindPlantSettings[]): UserError {
  return new UserError([
    {
      code: "day-no-wind",
      where: series.name,
      found: `no wind_speed_m_s, and a turbine in the wind (${turbines[0]?.id ?? ""})`,
      expected: "a column wind_speed_m_s",
      suggestion: "--set wind=[] leaves the turbine out",
    },
  ]);
}

function noPotential(series: DaySeries): UserError {
  const isThrottled = series.columns.has("pv_power_w");
  return new UserError([
    {
      code: "day-no-potential",
      where: series.name,
      found: isThrottled
        ? "pv_power_w, throttled when the battery is full: it does not say what was thrown away"
        : "no column that tells what the sun could have given",
      expected: "pv_potential_w, or ghi_w_m2 (better with dni_w_m2 and dhi_w_m2)",
    },
  ]);
}
