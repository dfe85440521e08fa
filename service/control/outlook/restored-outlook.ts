/**
 * What was learned before a restart. Each part is taken as a whole or left out: a profile with
 * holes would be worse than one that begins anew. What was under way, and the plan, are not taken.
 */
import { fieldOf, isBounded, listOf, numberOf } from "../saved-fields.ts";
import { NOTHING_SEEN } from "./acceptance-table.ts";
import type { SeenAcceptance } from "./acceptance-table.ts";
import { NO_BASE, POWER_MAX_W } from "./base-profile.ts";
import type { BaseProfile } from "./base-profile.ts";
import { FORECAST_MAX } from "./forecast.ts";
import { initialOutlook } from "./outlook-memory.ts";
import type { OutlookMemory } from "./outlook-memory.ts";
import { CLEARNESS_MAX, DAYS_MAX, PARTS } from "./sky-record.ts";
import type { SkyDay, SkyRecord } from "./sky-record.ts";

/** No adjustment of ours is larger; one that reads as larger is a mistake. [1] */
const TAIL_SHIFT_MAX = 0.6;

/** @param saved - Whatever was in the file: nothing about it is taken for granted. */
export function restoredOutlook(saved: unknown, nowMs: number): OutlookMemory {
  const blank = initialOutlook(nowMs);
  const steadyW = numberOf(saved, "steadyW") ?? 0;
  return {
    ...blank,
    base: baseAgain(fieldOf(saved, "base")),
    sky: skyAgain(fieldOf(saved, "sky")),
    acceptance: acceptanceAgain(listOf(saved, "acceptance")),
    steadyW: isBetween(steadyW, 0, POWER_MAX_W) ? steadyW : 0,
  };
}

function baseAgain(saved: unknown): BaseProfile {
  const meanW = numbersOf(saved, "meanW", { like: NO_BASE.meanW, min: 0 });
  const spreadW = numbersOf(saved, "spreadW", { like: NO_BASE.spreadW, min: 0 });
  const seen = numbersOf(saved, "seen", { like: NO_BASE.seen, min: 0 });
  const weekdayW = numbersOf(saved, "weekdayW", { like: NO_BASE.weekdayW, min: -POWER_MAX_W });
  const weekdaySeen = numbersOf(saved, "weekdaySeen", { like: NO_BASE.weekdaySeen, min: 0 });
  const isWhole =
    meanW !== null &&
    spreadW !== null &&
    seen !== null &&
    weekdayW !== null &&
    weekdaySeen !== null;
  return isWhole ? { meanW, spreadW, seen, weekdayW, weekdaySeen } : NO_BASE;
}

function skyAgain(saved: unknown): SkyRecord {
  const tailShift = numberOf(saved, "tailShift") ?? 0;
  const days: SkyDay[] = [];
  for (const day of listOf(saved, "days")) {
    const localDay = numberOf(day, "localDay");
    const clearness = listOf(day, "clearness").filter(isClearness);
    const said = numberOf(day, "forecast");
    const forecast = said !== null && isBetween(said, 0, FORECAST_MAX) ? said : null;
    // Days that go back in time were written by a clock that went wrong.
    const isLater = localDay !== null && localDay > (days.at(-1)?.localDay ?? -Infinity);
    if (isLater && clearness.length === PARTS) days.push({ localDay, clearness, forecast });
  }
  return {
    days: days.slice(-DAYS_MAX),
    today: null,
    tailShift: isBetween(tailShift, -TAIL_SHIFT_MAX, TAIL_SHIFT_MAX) ? tailShift : 0,
  };
}

function isClearness(value: unknown): value is number {
  return isBounded(value) && (value === -1 || isBetween(value, 0, CLEARNESS_MAX));
}

function acceptanceAgain(saved: readonly unknown[]): SeenAcceptance {
  if (saved.length !== NOTHING_SEEN.length) return NOTHING_SEEN;
  return saved.map((powerW) =>
    isBounded(powerW) && isBetween(powerW, 0, POWER_MAX_W) ? powerW : null,
  );
}

/** As many numbers as in `like`, none of them out of range; else null. */
function numbersOf(
  saved: unknown,
  key: string,
  { like, min }: { readonly like: readonly number[]; readonly min: number },
): readonly number[] | null {
  const numbers = listOf(saved, key)
    .filter(isBounded)
    .filter((value) => isBetween(value, min, POWER_MAX_W));
  return numbers.length === like.length ? numbers : null;
}

function isBetween(value: number, min: number, max: number): boolean {
  return value >= min && value <= max;
}
