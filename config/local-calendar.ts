/**
 * Local date and clock time of an instant, for windows, quotas and day files.
 *
 * Asking `Intl` at every tick is slow (some 10 µs), and a replay asks half a million times a year.
 * So the offset of the zone is asked for once for each stretch in which it stays the same; where it
 * changes within a day the instant of the change is found by halving, exact to the millisecond.
 * Two changes within one UTC day that cancel out would be missed; no zone has had any since 1970.
 */

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

export interface LocalTime {
  /** Days since 1970-01-01 of the local calendar date. */
  readonly localDay: number;
  /** Minutes after local midnight as the clock shows it. [min] 0…1439 */
  readonly localMinute: number;
  /** When the local clocks change next, if that is within the coming 24 h; else 0. [ms] */
  readonly clockChangeMs: number;
  /** By how much they are put forward then; less than 0: back; 0: they are not. [min] */
  readonly clockShiftMin: number;
}

export type LocalCalendar = (wallMs: number) => LocalTime;

interface Span {
  readonly fromMs: number;
  /** Not included. */
  readonly toMs: number;
  readonly offsetMs: number;
  /** The next change, not later than the end of the UTC day after this one. */
  readonly change: OffsetChange | null;
}

/**
 * @param timeZone - IANA name; the settings have checked it.
 * @throws RangeError for an unknown zone, or later for an instant that no date can hold.
 */
export function createLocalCalendar(timeZone: string): LocalCalendar {
  const offsetAt = zoneOffset(timeZone);
  let span: Span = { fromMs: 0, toMs: 0, offsetMs: 0, change: null };
  return (wallMs) => {
    if (wallMs < span.fromMs || wallMs >= span.toMs) span = spanAround(wallMs, offsetAt);
    return localTimeOf(wallMs, span.offsetMs, span.change);
  };
}

/** From an instant on local time is so much later than UTC. [ms] */
export interface OffsetChange {
  readonly fromMs: number;
  readonly offsetMs: number;
}

/**
 * For records whose own stamps say how far they are from UTC.
 *
 * @param changes - In order of time; the first holds for what was before it, too. More may be
 *   added while the calendar is in use.
 */
export function stampedCalendar(changes: readonly OffsetChange[]): LocalCalendar {
  return (wallMs) => {
    let at = changes.length - 1;
    while (at > 0 && (changes[at]?.fromMs ?? 0) > wallMs) at -= 1;
    return localTimeOf(wallMs, changes[at]?.offsetMs ?? 0, changes[at + 1] ?? null);
  };
}

function localTimeOf(wallMs: number, offsetMs: number, change: OffsetChange | null): LocalTime {
  const localMs = wallMs + offsetMs;
  const localDay = Math.floor(localMs / DAY_MS);
  const localMinute = Math.floor((localMs - localDay * DAY_MS) / MINUTE_MS);
  const isNear = change !== null && change.fromMs > wallMs && change.fromMs - wallMs <= DAY_MS;
  const clockChangeMs = isNear ? change.fromMs : 0;
  const clockShiftMin = isNear ? (change.offsetMs - offsetMs) / MINUTE_MS : 0;
  return { localDay, localMinute, clockChangeMs, clockShiftMin };
}

type OffsetAt = (wallMs: number) => number;

function spanAround(wallMs: number, offsetAt: OffsetAt): Span {
  const fromMs = Math.floor(wallMs / DAY_MS) * DAY_MS;
  const toMs = fromMs + DAY_MS;
  const offsetMs = offsetAt(fromMs);
  const today = changeWithin(fromMs, toMs - 1, offsetAt);
  if (today !== null && wallMs < today.fromMs) {
    return { fromMs, toMs: today.fromMs, offsetMs, change: today };
  }
  // From the last instant of this day, so that a change at midnight is among them.
  const tomorrow = changeWithin(toMs - 1, toMs + DAY_MS, offsetAt);
  if (today === null) return { fromMs, toMs, offsetMs, change: tomorrow };
  return { fromMs: today.fromMs, toMs, offsetMs: today.offsetMs, change: tomorrow };
}

function changeWithin(fromMs: number, toMs: number, offsetAt: OffsetAt): OffsetChange | null {
  const offsetMs = offsetAt(fromMs);
  const laterOffsetMs = offsetAt(toMs);
  if (offsetMs === laterOffsetMs) return null;
  let before = fromMs;
  let after = toMs;
  while (after - before > 1) {
    const middle = Math.floor((before + after) / 2);
    if (offsetAt(middle) === offsetMs) before = middle;
    else after = middle;
  }
  return { fromMs: after, offsetMs: laterOffsetMs };
}

function zoneOffset(timeZone: string): OffsetAt {
  const format = new Intl.DateTimeFormat("en-US", {
    timeZone,
    calendar: "gregory",
    numberingSystem: "latn",
    hourCycle: "h23",
    year: "numeric",
    month: "numeric",
    day: "numeric",
    hour: "numeric",
    minute: "numeric",
    second: "numeric",
  });
  return (wallMs) => {
    const parts: Partial<Record<Intl.DateTimeFormatPartTypes, number>> = {};
    for (const { type, value } of format.formatToParts(wallMs)) parts[type] = Number(value);
    const { year = 1970, month = 1, day = 1, hour = 0, minute = 0, second = 0 } = parts;
    const localMs = Date.UTC(year, month - 1, day, hour, minute, second);
    return localMs - Math.floor(wallMs / 1000) * 1000;
  };
}
