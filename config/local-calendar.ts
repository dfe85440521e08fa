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
}

export type LocalCalendar = (wallMs: number) => LocalTime;

interface Span {
  readonly fromMs: number;
  /** Not included. */
  readonly toMs: number;
  readonly offsetMs: number;
}

/**
 * @param timeZone - IANA name; the settings have checked it.
 * @throws RangeError for an unknown zone, or later for an instant that no date can hold.
 */
export function createLocalCalendar(timeZone: string): LocalCalendar {
  const offsetAt = zoneOffset(timeZone);
  let span: Span = { fromMs: 0, toMs: 0, offsetMs: 0 };
  return (wallMs) => {
    if (wallMs < span.fromMs || wallMs >= span.toMs) span = spanAround(wallMs, offsetAt);
    return localTimeOf(wallMs + span.offsetMs);
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
    return localTimeOf(wallMs + (changes[at]?.offsetMs ?? 0));
  };
}

function localTimeOf(localMs: number): LocalTime {
  const localDay = Math.floor(localMs / DAY_MS);
  return { localDay, localMinute: Math.floor((localMs - localDay * DAY_MS) / MINUTE_MS) };
}

type OffsetAt = (wallMs: number) => number;

function spanAround(wallMs: number, offsetAt: OffsetAt): Span {
  const fromMs = Math.floor(wallMs / DAY_MS) * DAY_MS;
  const toMs = fromMs + DAY_MS;
  const offsetMs = offsetAt(fromMs);
  const laterOffsetMs = offsetAt(toMs - 1);
  if (offsetMs === laterOffsetMs) return { fromMs, toMs, offsetMs };
  let before = fromMs;
  let after = toMs - 1;
  while (after - before > 1) {
    const middle = Math.floor((before + after) / 2);
    if (offsetAt(middle) === offsetMs) before = middle;
    else after = middle;
  }
  return wallMs < after
    ? { fromMs, toMs: after, offsetMs }
    : { fromMs: after, toMs, offsetMs: laterOffsetMs };
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
