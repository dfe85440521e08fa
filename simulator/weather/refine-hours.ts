/**
 * Hourly rows, as typical years have them, refined to minutes.
 *
 * A controller that sees an hour's mean never meets a cloud, so what an hour hides is made up: sun
 * and shadow of the kind that the hour's clearness suggests, seeded, on the clear sky's course.
 * Every hour keeps its own energy in each kind of light, and so the day does. What is lost: the
 * minutes are only likely ones, and the three kinds of light fit one another in the mean alone.
 *
 * @check test/simulator/refine-hours.test.ts
 */
import type { DaySeries } from "../days/day-file.ts";
import { SKY_KINDS, cloudMinutes } from "./cloud.ts";
import type { SkyKind } from "./cloud.ts";
import { cloudedSky } from "./clouded-sky.ts";
import type { SkyPlace } from "./clouded-sky.ts";
import { createRandom } from "./random.ts";

const MINUTES = 60;
const MINUTE_MS = 60_000;
export const HOUR_MS = MINUTES * MINUTE_MS;

/** An hour's clearness from which it is clear, and up to which it is overcast. [1] no source */
const CLEAR_FROM = 0.9;
const OVERCAST_TO = 0.4;
/** Beside a bright cloud a minute can be this much above the clear sky, and no more. [1] */
const ABOVE_CLEAR_MAX = 1.35;

/** Light columns; all others are held through their hour. */
const LIGHT = {
  ghi_w_m2: "globalWm2",
  dni_w_m2: "beamNormalWm2",
  dhi_w_m2: "diffuseWm2",
} as const;

/** @param series - Rows one hour apart; each stands for the hour that it begins. */
export function refineHours(series: DaySeries, place: SkyPlace, seed: number): DaySeries {
  const rows = series.timesMs.length;
  const random = createRandom(seed);
  const clouds = new Map(
    SKY_KINDS.map((kind) => [kind, cloudMinutes(kind, rows * MINUTES, random)] as const),
  );
  const timesMs = new Float64Array(rows * MINUTES);
  const columns = new Map(
    [...series.columns].map(([name, hourly]) => [name, held(hourly)] as const),
  );
  for (let row = 0; row < rows; row += 1) {
    const startMs = series.timesMs[row] ?? 0;
    for (let minute = 0; minute < MINUTES; minute += 1) {
      timesMs[row * MINUTES + minute] = startMs + minute * MINUTE_MS;
    }
    const middles = Array.from({ length: MINUTES }, (_, i) => startMs + (i + 0.5) * MINUTE_MS);
    const clear = middles.map((atMs) => cloudedSky(place, atMs, 1));
    const clearWm2 = clear.reduce((sum, { globalWm2 }) => sum + globalWm2, 0) / MINUTES;
    const kind = kindOf((series.columns.get("ghi_w_m2")?.[row] ?? NaN) / clearWm2);
    const skies = middles.map((atMs, i) =>
      cloudedSky(place, atMs, clouds.get(kind)?.[row * MINUTES + i] ?? 1),
    );
    for (const [name, light] of Object.entries(LIGHT)) {
      const minutes = columns.get(name)?.subarray(row * MINUTES, (row + 1) * MINUTES);
      if (minutes === undefined || !((minutes[0] ?? 0) > 0)) continue;
      const limits = clear.map((sky) => (light === "diffuseWm2" ? Infinity : sky[light]));
      shape(
        minutes,
        skies.map((sky) => sky[light]),
        limits,
      );
    }
  }
  const { utcOffsetsMs } = series;
  const stamps = utcOffsetsMs === undefined ? {} : { utcOffsetsMs: held(utcOffsetsMs) };
  return { ...series, ...stamps, stepMs: MINUTE_MS, timesMs, columns };
}

function held(hourly: Float64Array): Float64Array {
  const minutes = new Float64Array(hourly.length * MINUTES);
  for (const [row, value] of hourly.entries()) {
    minutes.fill(value, row * MINUTES, (row + 1) * MINUTES);
  }
  return minutes;
}

function kindOf(clearness: number): SkyKind {
  if (clearness >= CLEAR_FROM) return "clear";
  return clearness <= OVERCAST_TO ? "overcast" : "broken";
}

/**
 * Gives an hour's minutes, which all hold its mean, the course of `weights`; their mean stays. What
 * would rise too far above the clear sky is cut and goes to the other minutes. An hour that cannot
 * be met (the sun is down for the model, not for the record) stays even.
 */
function shape(minutes: Float64Array, weights: readonly number[], clear: readonly number[]): void {
  const wanted = (minutes[0] ?? 0) * MINUTES;
  const isCut = new Uint8Array(MINUTES);
  for (let pass = 0; pass <= MINUTES; pass += 1) {
    let cutSum = 0;
    let weightSum = 0;
    for (let i = 0; i < MINUTES; i += 1) {
      if (isCut[i] === 1) cutSum += ABOVE_CLEAR_MAX * (clear[i] ?? 0);
      else weightSum += weights[i] ?? 0;
    }
    if (weightSum <= 0 || cutSum > wanted) return;
    const scale = (wanted - cutSum) / weightSum;
    const over = weights.findIndex(
      (weight, i) => isCut[i] === 0 && weight * scale > ABOVE_CLEAR_MAX * (clear[i] ?? 0) + 1e-9,
    );
    if (over < 0) {
      for (let i = 0; i < MINUTES; i += 1) {
        minutes[i] = isCut[i] === 1 ? ABOVE_CLEAR_MAX * (clear[i] ?? 0) : (weights[i] ?? 0) * scale;
      }
      return;
    }
    isCut[over] = 1;
  }
}
