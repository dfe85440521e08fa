/**
 * What the site itself usually uses: a mean and a spread for each hour of the local day, and, once
 * several weeks are known, what the weekday adds to it.
 *
 * The problem: everyday use is a habit with exceptions. One evening with guests, or one welding
 * job, must not count as a habit; a new freezer must, within days. So each hour's mean moves
 * towards what was measured, but never by more than a few spreads at a time, and the spread
 * follows how far off it was.
 */
import { numberAt, withNumber } from "../item-at.ts";

export const HOURS = 24;
const WEEKDAYS = 7;

export interface BaseProfile {
  /** By hour of the local day, at the battery bus. [W] */
  readonly meanW: readonly number[];
  /** Mean distance from it. [W] ≥ 0 */
  readonly spreadW: readonly number[];
  /** Hours seen so far, up to `SEEN_MAX`. */
  readonly seen: readonly number[];
  /** What the weekday adds, by weekday and hour. [W] */
  readonly weekdayW: readonly number[];
  readonly weekdaySeen: readonly number[];
}

export interface LocalHour {
  /** Days since 1970-01-01 of the local date. */
  readonly localDay: number;
  /** 0…23 */
  readonly hour: number;
}

/** An old day's share halves in about a week. Ours, no source. */
const SEEN_MAX = 10;
const WEEKDAY_SEEN_MAX = 8;
/** A weekday's own habit is believed by half after this many of them. */
const WEEKDAY_HALF = 4;
/** One hour moves its mean as if it had been at most this many spreads off. */
const SPREADS_MAX = 3;
/** …but a spread that happens to be nothing must not hold the mean for ever. [W] */
const SPREAD_MIN_W = 30;
/** A weekday of its own may differ by this many times the mean. */
const TIMES_MAX = 2;
/** A profile counts as known when each hour has been seen this often. */
const KNOWN_SEEN = 2;
/** Of loads of which nobody can tell so many rest: on made-up days fewer. Ours, no source. [1] */
const RESTING_SHARE = 0.2;
/** No plausible everyday use is larger, whatever a meter says. [W] */
export const POWER_MAX_W = 1e6;

export const NO_BASE: BaseProfile = {
  meanW: new Array<number>(HOURS).fill(0),
  spreadW: new Array<number>(HOURS).fill(0),
  seen: new Array<number>(HOURS).fill(0),
  weekdayW: new Array<number>(WEEKDAYS * HOURS).fill(0),
  weekdaySeen: new Array<number>(WEEKDAYS * HOURS).fill(0),
};

/** The profile after an hour whose mean use was `powerW`. */
export function learnHour(profile: BaseProfile, at: LocalHour, powerW: number): BaseProfile {
  return learned(profile, at, { powerW, doubtW: 0 });
}

function learned(
  profile: BaseProfile,
  at: LocalHour,
  { powerW, doubtW }: { readonly powerW: number; readonly doubtW: number },
): BaseProfile {
  const usedW = Math.min(POWER_MAX_W, Math.max(0, powerW));
  const { hour } = at;
  const seen = numberAt(profile.seen, hour);
  const meanW = numberAt(profile.meanW, hour);
  const spreadW = numberAt(profile.spreadW, hour);
  const cell = cellOf(at);
  const addsW = numberAt(profile.weekdayW, cell);
  const mostW = seen < KNOWN_SEEN ? POWER_MAX_W : SPREADS_MAX * Math.max(SPREAD_MIN_W, spreadW);
  const offW = within(mostW, usedW - meanW);
  const weight = 1 / (1 + seen);
  const nextW = meanW + weight * offW;
  // The first hour says nothing about its spread.
  const farW = Math.max(doubtW, seen === 0 ? 0 : Math.abs(offW));
  const weekdayWeight = 1 / (1 + numberAt(profile.weekdaySeen, cell));
  const weekdayOffW = within(Math.max(mostW, TIMES_MAX * nextW), usedW - nextW) - addsW;
  return {
    meanW: withNumber(profile.meanW, hour, nextW),
    spreadW: withNumber(profile.spreadW, hour, spreadW + weight * (farW - spreadW)),
    seen: withNumber(profile.seen, hour, Math.min(SEEN_MAX - 1, seen + 1)),
    weekdayW: withNumber(profile.weekdayW, cell, addsW + weekdayWeight * weekdayOffW),
    weekdaySeen: withNumber(
      profile.weekdaySeen,
      cell,
      Math.min(WEEKDAY_SEEN_MAX - 1, numberAt(profile.weekdaySeen, cell) + 1),
    ),
  };
}

/** The same of an hour of which only this much is known: a mean that may be right stays. */
export function learnHourBetween(
  profile: BaseProfile,
  at: LocalHour,
  { leastW, mostW }: { readonly leastW: number; readonly mostW: number },
): BaseProfile {
  const seen = numberAt(profile.seen, at.hour);
  const meanW = numberAt(profile.meanW, at.hour);
  if (seen >= KNOWN_SEEN && meanW >= leastW && meanW <= mostW) return profile;
  const likelyW = leastW + RESTING_SHARE * (mostW - leastW);
  const powerW = seen === 0 ? likelyW : Math.min(mostW, Math.max(leastW, meanW));
  return learned(profile, at, { powerW, doubtW: likelyW - leastW });
}

/** Every hour of the day has been seen often enough to be relied upon. */
export function isBaseKnown(profile: BaseProfile): boolean {
  return profile.seen.every((times) => times >= KNOWN_SEEN);
}

/** What the site is likely to use in that hour. [W] at the battery bus, ≥ 0 */
export function expectedBaseW(profile: BaseProfile, at: LocalHour): number {
  const cell = cellOf(at);
  const times = numberAt(profile.weekdaySeen, cell);
  // The first weeks tell a weekday from an accident badly: it is believed step by step.
  const belief = times < 2 ? 0 : times / (times + WEEKDAY_HALF);
  const usedW = numberAt(profile.meanW, at.hour) + belief * numberAt(profile.weekdayW, cell);
  return Math.max(0, usedW);
}

/** How far off that usually is. [W] ≥ 0 */
export function baseSpreadW(profile: BaseProfile, hour: number): number {
  return numberAt(profile.spreadW, hour);
}

function cellOf({ localDay, hour }: LocalHour): number {
  const weekday = ((localDay % WEEKDAYS) + WEEKDAYS) % WEEKDAYS;
  return weekday * HOURS + hour;
}

function within(limit: number, value: number): number {
  return Math.min(limit, Math.max(-limit, value));
}
