/**
 * Days as they could have been, out of an ordinary recording: what throttled arrays could have
 * given, with a range. Measured where that is certain; elsewhere clear-sky model × what the site
 * was learned to differ × how clear it was before and after, and never below what was measured.
 */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { ClearnessRange } from "./carried-clearness.ts";
import { UserError } from "../../service/errors.ts";
import { INFERRED_COLUMN } from "../days/day-file.ts";
import type { DaySeries } from "../days/day-file.ts";
import { certainRows } from "./certain-rows.ts";
import { clearRecord } from "./clear-record.ts";
import type { ClearRecord, Expected, SeenDay } from "./clear-record.ts";
import { everydayUse } from "./everyday-use.ts";
import { hiddenClearness } from "./hidden-clearness.ts";

export interface Reconstructed {
  readonly low: readonly DaySeries[];
  readonly middle: readonly DaySeries[];
  readonly high: readonly DaySeries[];
}

/** The range is wider where the sun was not seen: as wide as the service's own. [1] */
const ELSEWHERE_LOW = 0.9;
const ELSEWHERE_HIGH = 1.14;
/** Of a sky that fills a battery, as in the service. [1] */
const USUAL = 0.98;

/** Of the site's clear moments. [1] ours, no source */
const CLOUD_BELOW = 0.6;

type Skies = Readonly<Record<"here" | "elsewhere", ReturnType<typeof hiddenClearness>>>;

/** It has the arrays' own power, and nothing that says what they could have given. */
export function isThrottled({ columns }: DaySeries): boolean {
  const has = (name: string): boolean => columns.get(name)?.some((w) => !Number.isNaN(w)) === true;
  return has("pv_power_w") && !has("pv_potential_w") && !has("ghi_w_m2");
}

/** @throws UserError if a day does not tell when its arrays were held back. */
export function reconstructDays(days: readonly DaySeries[], site: SiteSettings): Reconstructed {
  const seen = days.map((series) => seenDay(series, site));
  const record = clearRecord(seen, site);
  const skies = {
    here: hiddenClearness(record.clearness),
    elsewhere: hiddenClearness(record.generalClearness),
  };
  const made = seen.map((day) => reconstructed(day, { record, skies, site }));
  const all = (end: keyof Reconstructed): readonly DaySeries[] => made.map((day) => day[end]);
  return { low: all("low"), middle: all("middle"), high: all("high") };
}

function seenDay(series: DaySeries, site: SiteSettings): SeenDay {
  const powerW = series.columns.get("pv_power_w") ?? new Float64Array(series.timesMs.length);
  const certain = certainRows(series, site);
  if (certain !== null) return { series, powerW, certain };
  throw new UserError([
    {
      code: "day-no-potential",
      where: series.name,
      found: "pv_power_w, and nothing that tells when a full battery held it down",
      expected: "battery_voltage_v and battery_current_a, charge_stage, or curtailed beside it",
      suggestion: "or pv_potential_w, or ghi_w_m2 (better with dni_w_m2 and dhi_w_m2)",
    },
  ]);
}

/** The sun's place decides what is carried on: the clearness here, or what was seen elsewhere. */
function hiddenRange({ seen }: Expected, skies: Skies, atMs: number): ClearnessRange {
  if (seen === "here") return skies.here(atMs);
  if (seen === "beside") {
    const { low, middle, high } = skies.here(atMs);
    return { low: low * ELSEWHERE_LOW, middle, high: high * ELSEWHERE_HIGH };
  }
  // A site that gives less in the evening looks like a duller evening: either may be so. No site
  // gives as little as a cloud leaves.
  const sky = skies.elsewhere(atMs);
  const isCloud = sky.seen < CLOUD_BELOW;
  return {
    low: Math.min(sky.low, sky.seen) * ELSEWHERE_LOW,
    middle: isCloud ? sky.middle : (sky.middle + sky.seen) / 2,
    high: sky.high * ELSEWHERE_HIGH,
  };
}

interface Known {
  readonly record: ClearRecord;
  readonly skies: Skies;
  readonly site: SiteSettings;
}

/** The low end has the least power and the most everyday use. */
function reconstructed(
  { series, powerW, certain }: SeenDay,
  { record, skies, site }: Known,
): Readonly<Record<keyof Reconstructed, DaySeries>> {
  const [low, middle, high] = [powerW.slice(), powerW.slice(), powerW.slice()];
  for (const [row, startMs] of series.timesMs.entries()) {
    const atMs = startMs + series.stepMs / 2;
    const measuredW = powerW[row] ?? NaN;
    if (Number.isNaN(measuredW) || certain[row] === 1) continue;
    const expected = record.expected(atMs);
    if (expected.powerW <= 0) continue;
    const range = hiddenRange(expected, skies, atMs);
    // Clearer than thought: then it is anything between that and a usual clear sky.
    const clearerW = measuredW + Math.max(0, (USUAL * expected.powerW - measuredW) / 2);
    const isClearer = measuredW >= range.middle * expected.powerW;
    low[row] = Math.max(measuredW, range.low * expected.powerW);
    middle[row] = isClearer ? clearerW : range.middle * expected.powerW;
    high[row] = Math.max(middle[row] ?? 0, range.high * expected.powerW);
  }
  const use = everydayUse(series, site);
  const made = (potentialW: Float64Array, useW: Float64Array | undefined): DaySeries => {
    const columns = new Map(series.columns);
    columns.set("pv_potential_w", potentialW);
    const inferred = potentialW.map((w, row) => (w > 0 ? 1 - (powerW[row] ?? 0) / w : 0));
    columns.set(INFERRED_COLUMN, inferred);
    if (useW !== undefined) columns.set("base_load_w", useW);
    return { ...series, columns };
  };
  return {
    low: made(low, use?.most),
    middle: made(middle, use?.likely),
    high: made(high, use?.least),
  };
}
