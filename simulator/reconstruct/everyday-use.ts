/**
 * Everyday use out of all use. What a metered load took is taken away. A load without a meter
 * stands in the record as allotted, whether its own thermostat let it draw or not: `drawn.ts` tells
 * that by the steps that all use makes.
 */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { DaySeries } from "../days/day-file.ts";
import { drawnW } from "./drawn.ts";

export interface EverydayUse {
  /** Everything allotted was drawn, or more than that as it seems. [W] ≥ 0 */
  readonly least: Float64Array;
  readonly likely: Float64Array;
  /** Nothing of what has no meter was drawn. [W] ≥ 0 */
  readonly most: Float64Array;
}

/** @returns null if the record has everyday use by itself, or nothing to tell it by. */
export function everydayUse(series: DaySeries, site: SiteSettings): EverydayUse | null {
  const total = series.columns.get("total_load_w");
  if (total === undefined || series.columns.has("base_load_w")) return null;
  const metered: Float64Array[] = [];
  const allotted: Allotted[] = [];
  for (const [name, values] of series.columns) {
    const id = /^load_(.+)_w$/u.exec(name)?.[1];
    if (id === undefined) continue;
    if (hasMeter(site, id)) metered.push(values);
    else allotted.push({ powerW: values, ratedW: ratedW(site, id) });
  }
  const allottedW = allotted.map(({ powerW }) => powerW);
  const rest = total.map((powerW, row) => powerW - sumAt(metered, row));
  const use = (of: (row: number) => number): Float64Array =>
    rest.map((_, row) => Math.max(0, of(row)));
  const drawn = drawnOf(rest, allotted);
  return {
    least: use((row) => (rest[row] ?? NaN) - Math.max(sumAt(allottedW, row), sumAt(drawn, row))),
    likely: use((row) => (rest[row] ?? NaN) - sumAt(drawn, row)),
    most: use((row) => rest[row] ?? NaN),
  };
}

interface Allotted {
  readonly powerW: Float64Array;
  readonly ratedW: number | null;
}

/** The greatest first: its steps are told most surely, and then are not in the others' way. */
function drawnOf(rest: Float64Array, allotted: readonly Allotted[]): readonly Float64Array[] {
  const greatestW = ({ powerW }: Allotted): number =>
    powerW.reduce((most, valueW) => Math.max(most, valueW || 0), 0);
  const bySize = allotted.toSorted((one, other) => greatestW(other) - greatestW(one));
  let left = rest;
  return bySize.map((load) => {
    const drawn = drawnW(left, load.powerW, load.ratedW);
    left = left.map((powerW, row) => powerW - (drawn[row] ?? 0));
    return drawn;
  });
}

/** null: it has several powers, or the settings do not know it any more. [W] */
function ratedW({ control }: SiteSettings, id: string): number | null {
  const load = control.loads.find((one) => one.id === id);
  const isPlain = load?.modulating === null && load.stagesW.length === 1;
  return isPlain ? (load.stagesW[0] ?? null) : null;
}

function hasMeter({ telemetry }: SiteSettings, id: string): boolean {
  return telemetry.some(({ key, ownerId }) => key === "load.{id}.power" && ownerId === id);
}

function sumAt(columns: readonly Float64Array[], row: number): number {
  return columns.reduce((sum, column) => sum + (column[row] || 0), 0);
}
