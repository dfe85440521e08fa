/**
 * How clear it is by a light sensor, while held-back arrays cannot show it.
 *
 * The sensor need not be right, only steady: what it shows is multiplied by what the arrays showed
 * beside it whenever they could be seen. A wrong factor, or dirt on the glass, drops out.
 */
import type { ClearnessRange } from "./held-clearness.ts";
import type { Observation } from "./observation.ts";
import type { ClearnessMemory } from "./potential-memory.ts";
import type { ControlSettings } from "./settings.ts";
import { modelPowerW } from "../solar/array-model.ts";

/** With less light than this the sun is too low to tell. [W/m²] Ours, no source */
const MODEL_MIN_WM2 = 100;
/** Darker than this no two of them can be compared. [1] Ours, no source */
const COMPARED_MIN = 0.1;
/** Beside a bright cloud there is more light than under a clear sky. [1] Ours, no source */
const CLEARNESS_MAX = 1.3;
/** What was seen together longer ago counts less. [ms] Ours, no source */
export const SENSOR_WEIGHT_MS = 3_600_000;
/** Seen together for less, nothing is known of the sensor. [ms] Ours, no source */
const SEEN_MIN_MS = 30 * 60_000;
/** A factor beyond these is a moment's, not the sensor's. [1] */
const FACTOR_MIN = 0.2;
const FACTOR_MAX = 5;

/**
 * What is seen before arrays are held back is more often a shadow than the site: the middle lies as
 * much above the factor, unless that is 1. The low end, on which loads are started, does not.
 * Fitted to simulated weeks, as in held-clearness.ts.
 */
const RAISED = 1.12;
const HIGH_ABOVE_MIDDLE = 1.1;
/** So many times as far below the factor as the arrays were on the mean, and a little more. */
const LOW_SPREADS = 2;
const LOW_BESIDES = 0.02;
const LOW_MIN = 0.7;

/** What was seen together longer ago counts less; a moment at full sun counts whole. [ms] */
const SPREAD_WEIGHT_MS = 10 * 3_600_000;

/** Light on the sensor over that of a clear sky; null: no sensor, or none that can be trusted. */
export function irradianceClearness(
  { irradianceWm2, wallMs }: Observation,
  settings: ControlSettings,
): number | null {
  const { irradianceSensor } = settings;
  if (irradianceSensor === null || irradianceWm2.quality !== "fresh") return null;
  const modelWm2 = modelPowerW(irradianceSensor, settings, wallMs);
  return modelWm2 < MODEL_MIN_WM2 ? null : Math.max(0, irradianceWm2.value) / modelWm2;
}

/** null: the sensor has nothing to say. */
export function sensedRange(
  sensed: number | null,
  sky: Pick<ClearnessMemory, "sensorFactor" | "sensorSeenMs" | "sensorSpread">,
): ClearnessRange | null {
  const { sensorFactor, sensorSeenMs, sensorSpread } = sky;
  if (sensed === null || sensorSeenMs < SEEN_MIN_MS) return null;
  const raised = Math.min(Math.max(1, sensorFactor), RAISED * sensorFactor);
  const middle = Math.min(CLEARNESS_MAX, raised * sensed);
  const lowShare = Math.max(LOW_MIN, 1 - LOW_BESIDES - LOW_SPREADS * sensorSpread);
  const low = lowShare * Math.min(CLEARNESS_MAX, sensorFactor * sensed);
  return { low, start: low, middle, high: HIGH_ABOVE_MIDDLE * middle, abovePeakFraction: 0 };
}

interface SeenTogether {
  readonly sensed: number | null;
  readonly dtMs: number;
}

/** @param together.seen - Clearness by the arrays in this tick. */
export function sensorFactorAfter(
  { sensorFactor, sensorSeenMs }: ClearnessMemory,
  { seen, sensed, dtMs }: SeenTogether & { readonly seen: number },
): number {
  if (sensed === null || sensed < COMPARED_MIN || dtMs === 0) return sensorFactor;
  const factor = Math.min(FACTOR_MAX, Math.max(FACTOR_MIN, seen / sensed));
  return sensorFactor + (dtMs / (dtMs + sensorSeenMs)) * (factor - sensorFactor);
}

/** [ms] */
export function sensorSeenAfter(
  { sensorSeenMs }: ClearnessMemory,
  { sensed, dtMs }: SeenTogether,
): number {
  if (sensed === null || sensed < COMPARED_MIN) return sensorSeenMs;
  return Math.min(SENSOR_WEIGHT_MS, sensorSeenMs + dtMs);
}

/**
 * By how much less than by the sensor the arrays showed, on the mean of all moments. A low sun is
 * behind trees for one and not for the other: what it shows counts by the square of its height.
 *
 * @param together.height - Expected of the arrays over their peak. [1] 0…1
 */
export function sensorSpreadAfter(
  { sensorFactor, sensorSeenMs, sensorSpread }: ClearnessMemory,
  { seen, sensed, dtMs, height }: SeenTogether & { readonly seen: number; readonly height: number },
): number {
  if (sensed === null || sensed < COMPARED_MIN || sensorSeenMs < SEEN_MIN_MS) return sensorSpread;
  const below = Math.min(1, Math.max(0, 1 - seen / (sensorFactor * sensed)));
  const countedMs = dtMs * Math.min(1, height * height);
  return sensorSpread + (countedMs / (countedMs + SPREAD_WEIGHT_MS)) * (below - sensorSpread);
}
