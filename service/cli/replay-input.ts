/** What `bywash replay` is given on the command line, checked. */
import { readFileSync } from "node:fs";
import { parseQuantity } from "../../config/quantities.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { nearestWord } from "../../config/suggestions.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { readDayCsv } from "../../simulator/days/read-csv.ts";
import { openSample, SAMPLE_NAMES } from "../../simulator/days/open-sample.ts";
import { UserError } from "../errors.ts";

const STEP_MAX_S = 60;

type Days = (onDay: (series: DaySeries) => void) => Iterable<DaySeries>;

/** The named days, read one after the other when they are needed. */
export function readDays(names: readonly string[], site: SiteSettings): Days {
  return function* (onDay) {
    let endMs = Number.NEGATIVE_INFINITY;
    for (const name of names) {
      const series = openSample(name, site) ?? readFile(name);
      const startMs = series.timesMs[0] ?? 0;
      if (startMs < endMs) throw outOfOrder(name, startMs);
      endMs = (series.timesMs.at(-1) ?? 0) + series.stepMs;
      onDay(series);
      yield series;
    }
  };
}

function readFile(name: string): DaySeries {
  if (name.startsWith("sample:")) throw unknownSample(name);
  let text: string;
  try {
    text = readFileSync(name, "utf8");
  } catch (error) {
    const code = error instanceof Error && "code" in error ? String(error.code) : "";
    const found = { ENOENT: "no such file", EISDIR: "a folder", EACCES: "may not be read" }[code];
    if (found === undefined) throw error;
    throw new UserError([{ code: "file-unreadable", where: name, found, expected: "a day file" }]);
  }
  return readDayCsv(text, name);
}

/** Whole seconds that fill a minute evenly, so that steps and rows stay in line. [s] */
export function readStepS(written: string): number {
  const parsed = parseQuantity(written, "duration");
  const seconds = parsed.ok ? parsed.value / 1000 : NaN;
  if (Number.isInteger(seconds) && seconds >= 1 && STEP_MAX_S % seconds === 0) return seconds;
  throw badFlag("--step", written, "whole seconds that divide a minute, such as 60 s or 10 s");
}

/** A percentage as written on the command line. [1] 0…1 */
export function readShare(written: string): number {
  const parsed = parseQuantity(written, "fraction");
  if (parsed.ok && parsed.value >= 0 && parsed.value <= 1) return parsed.value;
  throw badFlag("--start-soc", written, "0 % to 100 %, with its unit");
}

/** @throws UserError unless it is a number within the limits. */
export function readNumber(
  flag: string,
  written: string,
  limits: { readonly min: number; readonly max: number },
): number {
  const value = Number(written);
  if (written.trim() !== "" && value >= limits.min && value <= limits.max) return value;
  throw badFlag(flag, written, `a number from ${String(limits.min)} to ${String(limits.max)}`);
}

/** [ms] > 0 */
export function readTimeMs(flag: string, written: string): number {
  const parsed = parseQuantity(written, "duration");
  if (parsed.ok && parsed.value > 0) return parsed.value;
  throw badFlag(flag, written, "a time such as 24 h or 90 min");
}

export function readDate(flag: string, written: string): string {
  const atMs = Date.parse(`${written}T00:00:00Z`);
  const isReal = !Number.isNaN(atMs) && new Date(atMs).toISOString().slice(0, 10) === written;
  if (isReal) return written;
  throw badFlag(flag, written, "a date such as 2025-06-12");
}

export function readChoice<T extends string>(
  flag: string,
  written: string,
  choices: readonly T[],
): T {
  const chosen = choices.find((choice) => choice === written);
  if (chosen !== undefined) return chosen;
  const near = nearestWord(written, choices);
  const suggestion = near === undefined ? {} : { suggestion: `did you mean ${near}?` };
  const expected = `one of ${choices.join(", ")}`;
  throw new UserError([
    { code: "flag-value", where: flag, found: written, expected, ...suggestion },
  ]);
}

function badFlag(where: string, found: string, expected: string): UserError {
  return new UserError([{ code: "flag-value", where, found, expected }]);
}

function unknownSample(name: string): UserError {
  const suggestion = nearestWord(name, SAMPLE_NAMES);
  return new UserError([
    {
      code: "sample-unknown",
      where: name,
      expected: `one of ${SAMPLE_NAMES.join(", ")}`,
      ...(suggestion === undefined ? {} : { suggestion: `did you mean ${suggestion}?` }),
    },
  ]);
}

function outOfOrder(name: string, startMs: number): UserError {
  return new UserError([
    {
      code: "day-order",
      where: name,
      found: `begins ${new Date(startMs).toISOString()}, before the day named before it ends`,
      expected: "day files in order of time",
    },
  ]);
}
