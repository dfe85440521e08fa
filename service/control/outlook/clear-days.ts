/**
 * What the arrays would give under a clear sky today and tomorrow, by quarters of an hour from
 * local midnight. Worked out once a day: the sun does not change its mind.
 *
 * On the two days of the year on which the clocks change, hours after the change are taken for the
 * hour beside them. It moves what is expected by an hour and is over at midnight.
 */
import { modelPowerW } from "../../solar/array-model.ts";
import { daylightOfDay } from "../../solar/daylight.ts";
import { numberAt } from "../item-at.ts";
import type { Observation } from "../observation.ts";
import type { ArraySettings, ControlSettings } from "../settings.ts";
import { PARTS } from "./sky-record.ts";

export const SLOT_MS = 900_000;
export const SLOT_H = 0.25;
export const DAY_SLOTS = 96;
const DAY_MS = 86_400_000;
const MINUTE_MS = 60_000;

export interface ClearDay {
  /** null on a day on which the sun does not rise or set. */
  readonly sunriseMs: number | null;
  readonly sunsetMs: number | null;
  /** By quarter of an hour from local midnight. [W] ≥ 0 */
  readonly powerW: readonly number[];
  /** By part of the day, from sunrise to sunset. [Wh] ≥ 0 */
  readonly partWh: readonly number[];
}

export interface ClearDays {
  readonly localDay: number;
  /** Local midnight as the clock now counts from it, as wall time. */
  readonly midnightMs: number;
  readonly today: ClearDay;
  readonly tomorrow: ClearDay;
}

export interface SunPlace {
  /** 0…12 from sunrise to sunset, outside of that the nearer end. */
  readonly position: number;
  readonly isUp: boolean;
}

/**
 * The same object all day long, unless the clocks are put forward or back: then it is made anew, so
 * that its hours are again those of the clock by which everyday use is known.
 */
export function clearDaysAt(
  before: ClearDays | null,
  observation: Observation,
  settings: ControlSettings,
): ClearDays {
  const { localDay, localMinute, wallMs } = observation;
  const midnightMs = wallMs - (wallMs % MINUTE_MS) - localMinute * MINUTE_MS;
  if (before?.localDay === localDay && before.midnightMs === midnightMs) return before;
  const isNext = before !== null && before.localDay === localDay - 1;
  return {
    localDay,
    midnightMs,
    // An hour of summer time shifts the quarters: such a day is worked out anew.
    today:
      isNext && before.midnightMs + DAY_MS === midnightMs
        ? before.tomorrow
        : clearDay(midnightMs, settings),
    tomorrow: clearDay(midnightMs + DAY_MS, settings),
  };
}

function clearDay(midnightMs: number, settings: ControlSettings): ClearDay {
  const { latitudeDeg, longitudeDeg } = settings;
  const sun = daylightOfDay(midnightMs + DAY_MS / 2, latitudeDeg, longitudeDeg);
  const arrays = settings.sources.filter((source) => source.kind === "array");
  const powerW = new Array<number>(DAY_SLOTS).fill(0);
  const partWh = new Array<number>(PARTS).fill(0);
  const { sunriseMs, sunsetMs } = sun;
  if (sunriseMs === null || sunsetMs === null) return { sunriseMs, sunsetMs, powerW, partWh };
  for (let slot = 0; slot < DAY_SLOTS; slot += 1) {
    const middleMs = midnightMs + (slot + 0.5) * SLOT_MS;
    if (middleMs <= sunriseMs || middleMs >= sunsetMs) continue;
    let sumW = 0;
    for (const array of arrays) sumW += limitedW(array, middleMs, settings);
    powerW[slot] = Math.round(sumW);
    const part = Math.floor(positionOf(sunriseMs, sunsetMs, middleMs));
    partWh[part] = numberAt(partWh, part) + sumW * SLOT_H;
  }
  return { sunriseMs, sunsetMs, powerW, partWh };
}

/** No more than its charge controller lets through. [W] */
function limitedW(array: ArraySettings, atMs: number, settings: ControlSettings): number {
  const powerW = modelPowerW(array, settings, atMs);
  const { currentLimitA } = array;
  if (currentLimitA === null) return powerW;
  return Math.min(powerW, currentLimitA * settings.battery.nominalVoltageV);
}

/** Where the day stands; null on a day without sunrise and sunset. */
export function placeInDay(day: ClearDay, atMs: number): SunPlace | null {
  const { sunriseMs, sunsetMs } = day;
  if (sunriseMs === null || sunsetMs === null) return null;
  const position = positionOf(sunriseMs, sunsetMs, atMs);
  return {
    position: Math.min(PARTS, Math.max(0, position)),
    isUp: position >= 0 && position < PARTS,
  };
}

function positionOf(sunriseMs: number, sunsetMs: number, atMs: number): number {
  return (PARTS * (atMs - sunriseMs)) / (sunsetMs - sunriseMs);
}

/** Clear-sky power at an instant of today, between the middles of two slots. [W] ≥ 0 */
export function clearPowerAt(days: ClearDays, wallMs: number): number {
  const at = (wallMs - days.midnightMs) / SLOT_MS - 0.5;
  const slot = Math.floor(at);
  const before = clearPowerW(days, slot);
  return before + (at - slot) * (clearPowerW(days, slot + 1) - before);
}

/** Clear-sky power at a slot that counts on from today's midnight. [W] ≥ 0 */
export function clearPowerW({ today, tomorrow }: ClearDays, slot: number): number {
  if (slot < DAY_SLOTS) return numberAt(today.powerW, Math.max(0, slot));
  return slot < 2 * DAY_SLOTS ? numberAt(tomorrow.powerW, slot - DAY_SLOTS) : 0;
}
