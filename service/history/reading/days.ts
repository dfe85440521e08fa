/** Which days have been recorded. */
import { numberIn, textIn } from "./reader.ts";
import type { Reader } from "./reader.ts";

/** @returns Local days, the newest first. @throws Error of the database */
export function recordedDays(
  reader: Reader,
  which: { readonly fromDay: number; readonly toDay: number; readonly limit: number },
): number[] {
  const { fromDay, toDay, limit } = which;
  return reader
    .rows(
      "SELECT DISTINCT local_day FROM day WHERE local_day >= ? AND local_day <= ? " +
        "ORDER BY local_day DESC LIMIT ?",
      fromDay,
      toDay,
      limit,
    )
    .map((row) => numberIn(row, 0));
}

/** Names of all figures that the history has minutes of. @throws Error of the database */
export function figureNames(reader: Reader): string[] {
  return reader.rows("SELECT name FROM signal ORDER BY name").map((row) => textIn(row, 0));
}
