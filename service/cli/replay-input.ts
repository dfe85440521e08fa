/** What `bywash replay` is given on the command line, checked. */
import { parseQuantity } from "../../config/quantities.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { nearestWord } from "../../config/suggestions.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { isParquet, openDayPieces, readDayCsvFile } from "../../simulator/days/open-day-file.ts";
import { openSample, SAMPLE_NAMES } from "../../simulator/days/open-sample.ts";
import { UserError } from "../errors.ts";

const STEP_MAX_S = 60;

type Days = (onDay: (series: DaySeries) => void) => Iterable<DaySeries>;

/** Parquet files by name, decoded: that cannot be done while a replay waits for its next day. */
type DecodedDays = ReadonlyMap<string, readonly DaySeries[]>;

/** @throws UserError if one of the Parquet files among the names cannot be read. */
export async function decodeDays(names: readonly string[]): Promise<DecodedDays> {
  const decoded = new Map<string, readonly DaySeries[]>();
  for (const name of names) {
    if (name.startsWith("sample:") || !isParquet(name)) continue;
    const pieces: DaySeries[] = [];
    for await (const piece of openDayPieces(name)) pieces.push(piece);
    decoded.set(name, pieces);
  }
  return decoded;
}

/** The named days, read one after the other when they are needed. */
export function readDays(
  names: readonly string[],
  site: SiteSettings,
  decoded: DecodedDays = new Map(),
): Days {
  return function* (onDay) {
    let endMs = Number.NEGATIVE_INFINITY;
    for (const name of names) {
      let isFirst = true;
      for (const series of piecesOf(name)) {
        const startMs = series.timesMs[0] ?? 0;
        if (isFirst && startMs < endMs) throw outOfOrder(name, startMs);
        isFirst = false;
        endMs = (series.timesMs.at(-1) ?? 0) + series.stepMs;
        onDay(series);
        yield series;
      }
    }
  };

  function piecesOf(name: string): Iterable<DaySeries> {
    const sample = openSample(name, site);
    if (sample !== null) return [sample];
    if (name.startsWith("sample:")) throw unknownSample(name);
    return decoded.get(name) ?? readDayCsvFile(name);
  }
}

/** Whole seconds that fill a minute evenly, so that steps and rows stay in line. [s] */
export function readStepS(written: string, flag = "--step"): number {
  const parsed = parseQuantity(written, "duration");
  const seconds = parsed.ok ? parsed.value / 1000 : NaN;
  if (Number.isInteger(seconds) && seconds >= 1 && STEP_MAX_S % seconds === 0) return seconds;
  throw badFlag(flag, written, "whole seconds that divide a minute, such as 60 s or 10 s");
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
