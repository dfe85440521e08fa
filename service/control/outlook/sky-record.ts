/**
 * The site's own record of clearness: how much of what a clear sky would have given did come, in
 * each twelfth of the day between sunrise and sunset, on each of the last weeks.
 *
 * The problem: while the battery is full the arrays are held back, and nobody sees what they could
 * have given. Such minutes count a little, with the clearness that was last seen, and never with
 * less than what was delivered; they fill gaps without outvoting what was measured.
 */
import { numberAt, withNumber } from "../item-at.ts";

/** Parts of the day, from sunrise to sunset. */
export const PARTS = 12;
/** Days that are kept: two months are one season. */
export const DAYS_MAX = 60;
/** A day of which less is known says nothing. */
const PARTS_MIN = 4;
/** Bright clouds beside the sun may give more than a clear sky, but not for five minutes. */
export const CLEARNESS_MAX = 1.3;
/** Weight of minutes in which the arrays were held back. Ours, no source */
const HELD_BACK_WEIGHT = 0.1;
/** How fast the clearness that is held follows what is measured. */
const HELD_WEIGHT = 0.4;

export interface SkyDay {
  readonly localDay: number;
  /** By part of the day; −1: not known. [1] */
  readonly clearness: readonly number[];
  /** What a forecast said of it in the morning, against a clear sky; null: there was none. [1] */
  readonly forecast: number | null;
}

export interface SkyToday {
  readonly localDay: number;
  /** By part of the day, weighted. [Wh] ≥ 0 */
  readonly measuredWh: readonly number[];
  readonly clearWh: readonly number[];
  /** Last clearness that could be seen; null: none today. [1] */
  readonly heldClearness: number | null;
  /** The cautious clearness of the rest of the day, as it was said at a quarter, half, … of it. */
  readonly said: readonly SaidClearness[];
  /** What a forecast said when the day was first looked at; null: there was none. [1] */
  readonly forecast: number | null;
}

export interface SaidClearness {
  /** From this part of the day on. */
  readonly part: number;
  readonly clearness: number;
}

export interface SkyRecord {
  /** Oldest first. */
  readonly days: readonly SkyDay[];
  readonly today: SkyToday | null;
  /**
   * What was learned to add to the share of days that may turn out below the cautious side, so that
   * just that share does. [1]
   */
  readonly tailShift: number;
}

export const NO_SKY: SkyRecord = { days: [], today: null, tailShift: 0 };

export interface SkyLook {
  readonly localDay: number;
  /** 0…11 */
  readonly part: number;
  readonly measuredWh: number;
  /** What a clear sky would have given in the same minutes. [Wh] > 0 */
  readonly clearWh: number;
  /** Nothing held the arrays back. */
  readonly isCertain: boolean;
  /** What a forecast says of the whole day; null: there is none. [1] */
  readonly forecast: number | null;
}

/** Today after a few more minutes of it. */
export function lookAtSky(today: SkyToday | null, look: SkyLook): SkyToday {
  const before = today?.localDay === look.localDay ? today : emptyDay(look.localDay, look.forecast);
  const seen = Math.min(CLEARNESS_MAX, Math.max(0, look.measuredWh / look.clearWh));
  const held = before.heldClearness;
  if (look.isCertain) {
    const next = held === null ? seen : held + HELD_WEIGHT * (seen - held);
    return added(before, look, { clearness: seen, weight: 1, heldClearness: next });
  }
  if (held === null) return before;
  const clearness = Math.max(held, seen);
  return added(before, look, { clearness, weight: HELD_BACK_WEIGHT, heldClearness: clearness });
}

function added(
  today: SkyToday,
  { part, clearWh }: SkyLook,
  seen: { readonly clearness: number; readonly weight: number; readonly heldClearness: number },
): SkyToday {
  return {
    localDay: today.localDay,
    measuredWh: withMore(today.measuredWh, part, seen.clearness * clearWh * seen.weight),
    clearWh: withMore(today.clearWh, part, clearWh * seen.weight),
    heldClearness: seen.heldClearness,
    said: today.said,
    forecast: today.forecast,
  };
}

/** The record with another today; field by field, since it is made anew all day long. */
export function withToday({ days, tailShift }: SkyRecord, today: SkyToday): SkyRecord {
  return { days, today, tailShift };
}

/** Clearness of a part of today; null: not seen. */
export function clearnessOf(today: SkyToday, part: number): number | null {
  const clearWh = numberAt(today.clearWh, part);
  return clearWh > 0 ? numberAt(today.measuredWh, part) / clearWh : null;
}

/** The record with today closed into it. */
export function withDay(days: readonly SkyDay[], today: SkyToday): readonly SkyDay[] {
  const clearness = today.clearWh.map((_, part) => rounded(clearnessOf(today, part) ?? -1));
  if (clearness.filter((value) => value >= 0).length < PARTS_MIN) return days;
  const earlier = days.filter((day) => day.localDay < today.localDay);
  return [...earlier, { localDay: today.localDay, clearness, forecast: today.forecast }].slice(
    -DAYS_MAX,
  );
}

function emptyDay(localDay: number, forecast: number | null): SkyToday {
  const nothing = new Array<number>(PARTS).fill(0);
  return {
    localDay,
    measuredWh: nothing,
    clearWh: nothing,
    heldClearness: null,
    said: [],
    forecast,
  };
}

function withMore(list: readonly number[], index: number, more: number): readonly number[] {
  return withNumber(list, index, numberAt(list, index) + more);
}

/** Three digits, since the record is written to disk. */
function rounded(value: number): number {
  return Math.round(value * 1000) / 1000;
}
