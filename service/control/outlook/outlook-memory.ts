/** What the outlook remembers: plain numbers, bounded in size. */
import { NOTHING_SEEN } from "./acceptance-table.ts";
import type { SeenAcceptance } from "./acceptance-table.ts";
import { NO_BASE } from "./base-profile.ts";
import type { BaseProfile } from "./base-profile.ts";
import type { ClearDays } from "./clear-days.ts";
import { NO_SKY } from "./sky-record.ts";
import type { SkyRecord } from "./sky-record.ts";

/** Sums since the outlook was last refreshed; powers are W times ms. */
export interface Gathered {
  readonly sinceMs: number;
  /** Time in which everyday use was known, and its sum. */
  readonly baseMs: number;
  readonly baseWms: number;
  /** Time in which nobody knew whether some load drew, and the sum as if each did, or none. */
  readonly doubtMs: number;
  readonly doubtLeastWms: number;
  readonly doubtMostWms: number;
  /** Time in which every array told its power, and the sum of them. */
  readonly arraysMs: number;
  readonly arraysWms: number;
  /** Of that, time in which nothing held them back. */
  readonly freeMs: number;
  /** What hydro and wind gave and burnt. */
  readonly steadyMs: number;
  readonly steadyWms: number;
  /** Time at the set-point of absorption, and what the battery took then. */
  readonly heldMs: number;
  readonly heldWms: number;
}

/** Everyday use of the hour that runs: known, and in doubt as above. */
export interface HourSum {
  readonly localDay: number;
  readonly hour: number;
  readonly ms: number;
  readonly wms: number;
  readonly doubtMs: number;
  readonly doubtLeastWms: number;
  readonly doubtMostWms: number;
}

/** From now to the next sunset. */
export interface OutlookPlan {
  /** Instants of the first and the last place of the two curves, as wall time. */
  readonly fromMs: number;
  readonly untilMs: number;
  readonly localDay: number;
  /** R, and where the state of charge goes without opportunity loads, every quarter hour. [1] */
  readonly curve: readonly number[];
  readonly path: readonly number[];
  /** What the sources are to give until then, and what everyday use takes. [Wh] ≥ 0 */
  readonly expectedWh: number;
  readonly cautiousWh: number;
  readonly baseWh: number;
  /** The battery is to complete its charge before that sunset. */
  readonly isCompleting: boolean;
  /** The cautious clearness behind it. [1] ≥ 0 */
  readonly cautiousClearness: number;
  /** When each load, by its place in the settings, is likely to start; null: not before sunset. */
  readonly startsAtMs: readonly (number | null)[];
}

export interface OutlookMemory {
  readonly gathered: Gathered;
  readonly hour: HourSum | null;
  readonly base: BaseProfile;
  readonly sky: SkyRecord;
  readonly acceptance: SeenAcceptance;
  /** Slow mean of what hydro and wind give and burn. [W] ≥ 0 */
  readonly steadyW: number;
  readonly clearDays: ClearDays | null;
  /** null: there is none yet, or the clock is in doubt. */
  readonly plan: OutlookPlan | null;
}

export function nothingGathered(nowMs: number): Gathered {
  return {
    sinceMs: nowMs,
    baseMs: 0,
    baseWms: 0,
    doubtMs: 0,
    doubtLeastWms: 0,
    doubtMostWms: 0,
    arraysMs: 0,
    arraysWms: 0,
    freeMs: 0,
    steadyMs: 0,
    steadyWms: 0,
    heldMs: 0,
    heldWms: 0,
  };
}

export function initialOutlook(nowMs: number): OutlookMemory {
  return {
    gathered: nothingGathered(nowMs),
    hour: null,
    base: NO_BASE,
    sky: NO_SKY,
    acceptance: NOTHING_SEEN,
    steadyW: 0,
    clearDays: null,
    plan: null,
  };
}
