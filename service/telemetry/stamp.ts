/** The publisher's own time of a message. */
import type { StampSettings } from "../../config/site-settings.ts";
import { follow, jsonOf } from "./payload.ts";
import type { Payload } from "./payload.ts";

export interface StampReader {
  readonly path: readonly string[];
  readonly form: StampSettings["form"];
  readonly aheadMaxMs: number;
}

/** Date and time with an offset; `T` and `Z` may be small, and a space may stand for `T`. */
const RFC3339 =
  /^(\d{4})-(\d\d)-(\d\d)[Tt ](\d\d):(\d\d):(\d\d)(\.\d{1,9})?(?:[Zz]|([+-])(\d\d):(\d\d))$/u;
/** The last instant that a calendar of the language can hold. [ms] */
const INSTANT_MAX_MS = 8.64e15;
const MS_PER_MINUTE = 60_000;

/** @returns Milliseconds since 1970-01-01T00:00:00Z; null if it can't be read. */
export function readStamp(payload: Payload, reader: StampReader): number | null {
  const document = jsonOf(payload);
  if ("reason" in document) return null;
  const found = follow(document.json, reader.path);
  if (reader.form === "rfc3339") return typeof found === "string" ? parseRfc3339(found) : null;
  if (typeof found !== "number") return null;
  const ms = reader.form === "seconds" ? found * 1000 : found;
  return Math.abs(ms) <= INSTANT_MAX_MS ? ms : null;
}

/**
 * @returns Milliseconds since 1970-01-01T00:00:00Z; null for what is no date or time.
 * @source RFC 3339, 5.6 and 5.7. A leap second (`:60`) is the first instant of the next minute.
 */
export function parseRfc3339(text: string): number | null {
  const match = RFC3339.exec(text);
  if (match === null) return null;
  const part = (index: number): number => Number(match[index] ?? 0);
  const [year, month, day] = [part(1), part(2), part(3)];
  const [hour, minute, second] = [part(4), part(5), part(6)];
  const [offsetHour, offsetMinute] = [part(9), part(10)];
  const isDate = month >= 1 && month <= 12 && day >= 1 && day <= daysInMonth(year, month);
  const isTime = hour <= 23 && minute <= 59 && second <= 60;
  if (!isDate || !isTime || offsetHour > 23 || offsetMinute > 59) return null;
  const date = new Date(0);
  // Not Date.UTC, which takes the years 0 to 99 for those of the last century.
  date.setUTCFullYear(year, month - 1, day);
  const timeMs = ((hour * 60 + minute) * 60 + second) * 1000 + Math.floor(part(7) * 1000);
  const sign = match[8] === "-" ? -1 : 1;
  const offsetMs = sign * (offsetHour * 60 + offsetMinute) * MS_PER_MINUTE;
  return date.getTime() + timeMs - offsetMs;
}

function daysInMonth(year: number, month: number): number {
  if (month === 2) return (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0 ? 29 : 28;
  return month === 4 || month === 6 || month === 9 || month === 11 ? 30 : 31;
}
