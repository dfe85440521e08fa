/**
 * Times as other programs write them: `yyyy yy M d DDD H m s` and the like, other characters as
 * they stand. `Hmm` without a colon is a number such as 958; 24:00 is the end of its day.
 */
import { parseTime } from "../days/rfc3339.ts";

export interface ReadTime {
  /** Clock time as if it were UTC. */
  readonly localMs: number;
  /** Where the text carries its own offset; null: the mapping's zone counts. */
  readonly offsetMs: number | null;
}

/** @returns null for a text that does not have the form, or for a day that does not exist. */
export type TimeReader = (text: string, year: number | undefined) => ReadTime | null;

const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

const TOKENS: Readonly<Record<string, string>> = {
  yyyy: "(?<year>\\d{4})",
  yy: "(?<shortYear>\\d\\d)",
  DDD: "(?<dayOfYear>\\d{1,3})",
  MM: "(?<month>\\d{1,2})",
  M: "(?<month>\\d{1,2})",
  dd: "(?<day>\\d{1,2})",
  d: "(?<day>\\d{1,2})",
  Hmm: "(?<clock>\\d{1,4})",
  HH: "(?<hour>\\d{1,2})",
  H: "(?<hour>\\d{1,2})",
  mm: "(?<minute>\\d{1,2})",
  m: "(?<minute>\\d{1,2})",
  ss: "(?<second>\\d{1,2}(?:\\.\\d+)?)",
  s: "(?<second>\\d{1,2}(?:\\.\\d+)?)",
  ZZ: "(?<offset>Z|[+-]\\d\\d:?\\d\\d)",
};
const TOKEN = /yyyy|yy|DDD|MM|M|dd|d|HHmm|Hmm|HH|H|mm|m|ss|s|ZZ|\s+|./gs;

export function isTimeForm(form: string): boolean {
  return createTimeReader(form) !== null;
}

/** @returns null for a form that tells no day, or the same thing twice. */
export function createTimeReader(form: string): TimeReader | null {
  if (form === "rfc3339") return readRfc3339;
  if (form === "seconds") return readCount(1000);
  if (form === "milliseconds") return readCount(1);
  const parts = form.match(TOKEN) ?? [];
  const names = parts.map((part) => TOKENS[part]?.slice(3, -1).split(">")[0] ?? part);
  const told = names.filter((_, i) => Object.hasOwn(TOKENS, parts[i] ?? ""));
  const isTwice = new Set(told).size < told.length;
  const hasDay = names.includes("dayOfYear") || (names.includes("month") && names.includes("day"));
  if (isTwice || !hasDay) return null;
  const pattern = new RegExp(`^${parts.map(patternOf).join("")}$`);
  return (text, year) => {
    const groups = pattern.exec(text.trim())?.groups;
    return groups === undefined ? null : composed(groups, year);
  };
}

function patternOf(part: string): string {
  // The hour has two digits where the minute follows it without a mark.
  if (part === "HHmm") return "(?<hour>\\d\\d)(?<minute>\\d\\d)";
  if (/^\s+$/.test(part)) return "\\s+";
  return TOKENS[part] ?? part.replace(/[.*+?^${}()|[\]\\/]/g, "\\$&");
}

type Groups = Readonly<Record<string, string | undefined>>;

function composed(groups: Groups, givenYear: number | undefined): ReadTime | null {
  const year = givenYear ?? yearOf(groups);
  if (year === null) return null;
  const dayMs = dayStart(groups, year);
  const clock = groups["clock"]?.padStart(4, "0");
  const hour = Number(clock?.slice(0, 2) ?? groups["hour"] ?? 0);
  const minute = Number(clock?.slice(2) ?? groups["minute"] ?? 0);
  const second = Number(groups["second"] ?? 0);
  const clockMs = hour * HOUR_MS + minute * MINUTE_MS + Math.round(second * 1000);
  const isClock = minute < 60 && second < 60 && clockMs <= DAY_MS;
  if (dayMs === null || !isClock) return null;
  return { localMs: dayMs + clockMs, offsetMs: offsetOf(groups["offset"]) };
}

/** Two digits are 1950 to 2049: satellites and loggers are no older. */
function yearOf(groups: Groups): number | null {
  if (groups["year"] !== undefined) return Number(groups["year"]);
  if (groups["shortYear"] === undefined) return null;
  const short = Number(groups["shortYear"]);
  return short >= 50 ? 1900 + short : 2000 + short;
}

function dayStart(groups: Groups, year: number): number | null {
  const dayOfYear = groups["dayOfYear"];
  const month = dayOfYear === undefined ? Number(groups["month"]) : 1;
  const day = Number(dayOfYear ?? groups["day"]);
  const atMs = Date.UTC(year, month - 1, day);
  const date = new Date(atMs);
  const isReal =
    date.getUTCFullYear() === year &&
    (dayOfYear === undefined ? date.getUTCMonth() === month - 1 : day >= 1);
  return isReal ? atMs : null;
}

function offsetOf(text: string | undefined): number | null {
  if (text === undefined) return null;
  if (text === "Z") return 0;
  const magnitudeMs = Number(text.slice(1, 3)) * HOUR_MS + Number(text.slice(-2)) * MINUTE_MS;
  return text.startsWith("-") ? -magnitudeMs : magnitudeMs;
}

function readRfc3339(text: string): ReadTime | null {
  const stamp = parseTime(text.replace(" ", "T"));
  if (stamp === null) return null;
  return { localMs: stamp.atMs + stamp.offsetMs, offsetMs: stamp.offsetMs };
}

function readCount(unitMs: number): TimeReader {
  return (text) => {
    if (!/^\d+(\.\d+)?$/.test(text)) return null;
    return { localMs: Math.round(Number(text) * unitMs), offsetMs: 0 };
  };
}
