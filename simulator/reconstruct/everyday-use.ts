/**
 * Everyday use out of all use. What a metered load took is taken away. A load without a meter
 * stands in the record as allotted, whether its own thermostat let it draw or not: which of the two
 * leaves everyday use nearer to what it was while no such load was on is taken for true.
 */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { DaySeries } from "../days/day-file.ts";
import { quantile } from "./clear-record.ts";

export interface EverydayUse {
  /** Everything allotted was drawn. [W] ≥ 0 */
  readonly least: Float64Array;
  readonly likely: Float64Array;
  /** Nothing of what has no meter was drawn. [W] ≥ 0 */
  readonly most: Float64Array;
}

/** What is usual is looked for so far around. [ms] no source */
const AROUND_MS = 90 * 60_000;

/** @returns null if the record has everyday use by itself, or nothing to tell it by. */
export function everydayUse(series: DaySeries, site: SiteSettings): EverydayUse | null {
  const total = series.columns.get("total_load_w");
  if (total === undefined || series.columns.has("base_load_w")) return null;
  const metered: Float64Array[] = [];
  const allotted: Float64Array[] = [];
  for (const [name, values] of series.columns) {
    const id = /^load_(.+)_w$/u.exec(name)?.[1];
    if (id === undefined) continue;
    (hasMeter(site, id) ? metered : allotted).push(values);
  }
  const rest = total.map((powerW, row) => powerW - sumAt(metered, row));
  const usual = usualUse(series, rest, allotted);
  const use = (of: (row: number) => number): Float64Array =>
    rest.map((_, row) => Math.max(0, of(row)));
  return {
    least: use((row) => (rest[row] ?? NaN) - sumAt(allotted, row)),
    likely: use((row) => likelyUse(rest[row] ?? NaN, usual(row), powersAt(allotted, row))),
    most: use((row) => rest[row] ?? NaN),
  };
}

function hasMeter({ telemetry }: SiteSettings, id: string): boolean {
  return telemetry.some(({ key, ownerId }) => key === "load.{id}.power" && ownerId === id);
}

/** The greatest first: it is told most surely. */
function likelyUse(restW: number, usualW: number | null, allottedW: readonly number[]): number {
  let useW = restW;
  for (const powerW of allottedW.toSorted((one, other) => other - one)) {
    const isDrawn = usualW === null || Math.abs(useW - powerW - usualW) <= Math.abs(useW - usualW);
    if (isDrawn) useW -= powerW;
  }
  return useW;
}

/** Median around a row of the rows in which no load without a meter was on; null: never so. */
function usualUse(
  { timesMs }: DaySeries,
  rest: Float64Array,
  allotted: readonly Float64Array[],
): (row: number) => number | null {
  const free = [...rest.keys()].filter(
    (row) => sumAt(allotted, row) === 0 && !Number.isNaN(rest[row] ?? NaN),
  );
  const all = quantile(
    free.map((row) => rest[row] ?? 0),
    0.5,
  );
  const byHalfHour = new Map<number, number | null>();
  return (row) => {
    const atMs = timesMs[row] ?? 0;
    const place = Math.floor(atMs / 1_800_000);
    const known = byHalfHour.get(place);
    if (known !== undefined) return known;
    const near = free.filter((other) => Math.abs((timesMs[other] ?? 0) - atMs) <= AROUND_MS);
    const usual =
      quantile(
        near.map((other) => rest[other] ?? 0),
        0.5,
      ) ?? all;
    byHalfHour.set(place, usual);
    return usual;
  };
}

function powersAt(columns: readonly Float64Array[], row: number): readonly number[] {
  return columns.map((column) => column[row] || 0);
}

function sumAt(columns: readonly Float64Array[], row: number): number {
  return columns.reduce((sum, column) => sum + (column[row] || 0), 0);
}
