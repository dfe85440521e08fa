/**
 * What a recording shows of site and sky, in stretches of five minutes: how the arrays differ from
 * the clear-sky model by where the sun stands, and how clear it was whenever that could be seen.
 * Unlike the service, which knows the past alone, it looks at all days at once.
 */
import type { SiteSettings } from "../../config/site-settings.ts";
import { modelPowerW, nearSun } from "../../service/solar/array-model.ts";
import type { Place } from "../../service/solar/array-model.ts";
import type { ArraySettings } from "../../service/control/settings.ts";
import type { DaySeries } from "../days/day-file.ts";

export const SLOT_MS = 300_000;
/** Of the peak; with less of the model the sun is too low to tell. [1] */
const MODEL_MIN_FRACTION = 0.03;
/** Of a stretch that has to be certain: to learn the site by it, and to see the sky. [1] */
const LEARNED_FROM = 0.75;
const SEEN_FROM = 0.75;
/** What a clear moment reaches, among samples of all skies. [1] ours, no source */
const CLEAR_QUANTILE = 0.8;
/** In duller hours than this a low sample is the cloud's work, and tells nothing of the place. */
const DULL = 0.55;
const DULL_MS = 45 * 60_000;
/** Of a place that the sun has passed less often, the neighbours tell as much. */
const SAMPLES_MIN = 3;
const CLEARNESS_MAX = 3;
/**
 * Under this the ridges and the long way through the air tell more than the clouds, and what was
 * seen says nothing of other places. [deg] no source
 */
const TELLING_DEG = 15;
const AZIMUTH_DEG = 10;
const ALTITUDE_DEG = 5;

interface Slot {
  readonly atMs: number;
  measuredWh: number;
  modelWh: number;
  certainRows: number;
  rows: number;
}

export interface Expected {
  /** What the arrays would give under a usual clear sky, here. [W] ≥ 0 */
  readonly powerW: number;
  /** Where the sun was seen: there, beside it, or elsewhere alone. */
  readonly seen: "here" | "beside" | "elsewhere";
}

export interface ClearRecord {
  expected(atMs: number): Expected;
  /** Clearness by slot number; absent where it could not be seen. [1] ≥ 0 */
  readonly clearness: ReadonlyMap<number, number>;
  /**
   * …and against the site as a whole, seen under a sun high enough. Where the sun was never seen
   * this one is carried on: it has in it how the site differs before and after.
   */
  readonly generalClearness: ReadonlyMap<number, number>;
}

export interface SeenDay {
  readonly series: DaySeries;
  readonly powerW: Float64Array;
  readonly certain: Uint8Array;
}

export function clearRecord(days: readonly SeenDay[], site: SiteSettings): ClearRecord {
  const recorded = days[0]?.series.place ?? site.control;
  const place: Place = {
    latitudeDeg: recorded.latitudeDeg,
    longitudeDeg: recorded.longitudeDeg,
    elevationM: site.control.elevationM,
  };
  const arrays = site.control.sources.flatMap((source) =>
    source.kind === "array" ? [source] : [],
  );
  const modelW = (atMs: number): number =>
    arrays.reduce((sum, array) => sum + modelPowerW(array, place, atMs), 0);
  const slots = slotsOf(days, modelW).filter(({ modelWh }) => modelWh > leastWh(arrays));
  const { response, general } = responseOf(slots, place);
  const clearness = new Map<number, number>();
  const generalClearness = new Map<number, number>();
  for (const slot of slots) {
    if (slot.certainRows < SEEN_FROM * slot.rows) continue;
    const fraction = slot.measuredWh / slot.modelWh;
    const number = slotNumber(slot.atMs);
    clearness.set(number, Math.min(CLEARNESS_MAX, fraction / response(slot.atMs).fraction));
    if (!isTelling(slot.atMs, place)) continue;
    generalClearness.set(number, Math.min(CLEARNESS_MAX, fraction / general));
  }
  return {
    clearness,
    generalClearness,
    expected(atMs) {
      const { fraction, seen } = response(atMs);
      return { powerW: modelW(atMs) * fraction, seen };
    },
  };
}

function isTelling(atMs: number, place: Place): boolean {
  return nearSun(place, atMs).altitudeDeg >= TELLING_DEG;
}

export function slotNumber(atMs: number): number {
  return Math.floor(atMs / SLOT_MS);
}

function leastWh(arrays: readonly ArraySettings[]): number {
  const peakW = arrays.reduce((sum, array) => sum + array.peakW, 0);
  // Of a single minute: a stretch may be certain for no longer.
  return (MODEL_MIN_FRACTION * peakW) / 60;
}

/** Energies of the certain rows alone. */
function slotsOf(days: readonly SeenDay[], modelW: (atMs: number) => number): readonly Slot[] {
  const slots = new Map<number, Slot>();
  for (const { series, powerW, certain } of days) {
    const hours = series.stepMs / 3_600_000;
    for (const [row, atMs] of series.timesMs.entries()) {
      const number = slotNumber(atMs);
      const slot = slots.get(number) ?? emptySlot((number + 0.5) * SLOT_MS);
      slots.set(number, slot);
      slot.rows += 1;
      const measuredW = powerW[row] ?? NaN;
      if (certain[row] !== 1 || Number.isNaN(measuredW)) continue;
      slot.certainRows += 1;
      slot.measuredWh += Math.max(0, measuredW) * hours;
      slot.modelWh += modelW(atMs + series.stepMs / 2) * hours;
    }
  }
  return [...slots.values()];
}

function emptySlot(atMs: number): Slot {
  return { atMs, measuredWh: 0, modelWh: 0, certainRows: 0, rows: 0 };
}

interface Response {
  /** Measured over model under a clear sky. [1] > 0 */
  readonly fraction: number;
  readonly seen: Expected["seen"];
}

interface SiteResponse {
  readonly response: (atMs: number) => Response;
  /** Of all places of the sun together. [1] > 0 */
  readonly general: number;
}

/** By where the sun stands. */
function responseOf(slots: readonly Slot[], place: Place): SiteResponse {
  const samples = slots
    .filter(({ certainRows, rows }) => certainRows >= LEARNED_FROM * rows)
    .map(({ atMs, measuredWh, modelWh }) => ({ atMs, fraction: measuredWh / modelWh }));
  const telling = samples.filter(({ atMs }) => isTelling(atMs, place));
  const general =
    quantile(
      (telling.length < SAMPLES_MIN ? samples : telling).map(({ fraction }) => fraction),
      CLEAR_QUANTILE,
    ) ?? 1;
  const cells = new Map<number, number[]>();
  for (const { atMs, fraction } of samples) {
    const around = samples.filter((other) => Math.abs(other.atMs - atMs) <= DULL_MS);
    const sum = around.reduce((total, other) => total + Math.min(general, other.fraction), 0);
    if (sum < DULL * general * around.length) continue;
    const cell = cellOf(place, atMs);
    cells.set(cell, [...(cells.get(cell) ?? []), fraction]);
  }
  const known = new Map<number, number>();
  for (const [cell, fractions] of cells) {
    const clear = quantile(fractions, CLEAR_QUANTILE);
    if (clear !== null && fractions.length >= SAMPLES_MIN) known.set(cell, Math.max(0.01, clear));
  }
  const response = (atMs: number): Response => {
    const cell = cellOf(place, atMs);
    const here = known.get(cell);
    if (here !== undefined) return { fraction: here, seen: "here" };
    const beside = known.get(cell + 1) ?? known.get(cell - 1);
    if (beside !== undefined) return { fraction: beside, seen: "beside" };
    return { fraction: general, seen: "elsewhere" };
  };
  return { response, general };
}

function cellOf(place: Place, atMs: number): number {
  const { azimuthDeg, altitudeDeg } = nearSun(place, atMs);
  // Altitudes that follow one another are neighbours; a gap of numbers parts the azimuths.
  return (
    Math.floor(azimuthDeg / AZIMUTH_DEG) * 100 + Math.floor(Math.max(0, altitudeDeg) / ALTITUDE_DEG)
  );
}

/** null: of nothing. */
export function quantile(values: readonly number[], share: number): number | null {
  const sorted = values.toSorted((one, other) => one - other);
  return sorted[Math.round(share * (sorted.length - 1))] ?? null;
}
