/** The shed of a recorded day: as its settings say, its tanks as warm as they were at the start. */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import type { PlantSettings } from "../../simulator/plant/plant-settings.ts";
import { UserError } from "../errors.ts";

export function shedOf(site: SiteSettings, { columns }: DaySeries): PlantSettings {
  const plant = plantSettings(site);
  return {
    ...plant,
    loads: plant.loads.map((load) => {
      const startC = firstKnown(columns.get(`tank_${load.id}_c`));
      if (load.tank === null || startC === null) return load;
      return { ...load, tank: { ...load.tank, startC } };
    }),
  };
}

export function firstKnown(column: Float64Array | undefined): number | null {
  return column?.find((value) => !Number.isNaN(value)) ?? null;
}

/**
 * The simulated shed has its turbines in the wind turn by the wind's speed, which no site measures.
 * The history keeps what they gave and what their dump burnt, but a day file has no columns for it.
 *
 * @throws UserError for a site with a turbine in the wind
 */
export function refuseWind({ control }: SiteSettings): void {
  const turbine = control.sources.find(({ kind }) => kind === "wind");
  if (turbine === undefined) return;
  throw new UserError([
    {
      code: "what-if-wind",
      where: "what-if",
      key: `wind.${turbine.id}`,
      found: "a turbine in the wind",
      expected:
        "a site without one: a day is replayed by the wind's speed, and the history has none, " +
        "only what the turbine gave",
      suggestion: "a day file with wind_speed_m_s in it, and bywash replay --set, tell the rest",
    },
  ]);
}

/**
 * How many times as much the changed arrays give. A recording tells what the arrays gave as they
 * stood: others of the same kind beside them give in proportion, and nothing else can be told.
 *
 * @throws UserError for arrays that face elsewhere.
 */
export function arrayRatio(site: SiteSettings, changed: SiteSettings): number {
  const [before, after] = [arraysOf(site), arraysOf(changed)];
  const facing = (arrays: typeof before): string =>
    JSON.stringify(arrays.map(({ id, tiltDeg, azimuthDeg }) => [id, tiltDeg, azimuthDeg]));
  if (facing(before) !== facing(after)) {
    throw new UserError([
      {
        code: "what-if-arrays",
        where: "what-if",
        key: "arrays",
        expected: "the arrays as they stand, but for their peak",
        suggestion: "a day file with the light in it, and bywash replay --set, tell the rest",
      },
    ]);
  }
  const peakW = (arrays: typeof before): number => arrays.reduce((sum, one) => sum + one.peakW, 0);
  return before.length === 0 ? 1 : peakW(after) / peakW(before);
}

function arraysOf({ control }: SiteSettings) {
  return control.sources.flatMap((source) => (source.kind === "array" ? [source] : []));
}

/** The same day with so many times the arrays. */
export function withArrays(series: DaySeries, ratio: number): DaySeries {
  const potentialW = series.columns.get("pv_potential_w");
  if (ratio === 1 || potentialW === undefined) return series;
  const scaled = potentialW.map((powerW) => powerW * ratio);
  return { ...series, columns: new Map([...series.columns, ["pv_potential_w", scaled]]) };
}
