/** Minute figures of a stretch of time, as columns. */
import { CHARGE_STAGE } from "../tick-rows.ts";
import { numberIn, textIn } from "./reader.ts";
import type { Reader } from "./reader.ts";

export interface Stretch {
  readonly fromMs: number;
  /** Not included. */
  readonly toMs: number;
}

export type Column = readonly (number | null)[];

export interface Minutes {
  /** Of which anything was recorded, since 1970; rising. */
  readonly minutes: readonly number[];
  /** Mean of each minute by the name of the figure; null where it was not known. */
  readonly means: ReadonlyMap<string, Column>;
  /** What stood at the end of each minute; null where it was not known. */
  readonly chargeStages: readonly (string | null)[];
}

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

/** @throws Error of the database */
export function readMinutes(reader: Reader, stretch: Stretch): Minutes {
  const fromMinute = Math.ceil(stretch.fromMs / MINUTE_MS);
  const toMinute = Math.ceil(stretch.toMs / MINUTE_MS);
  const rows = reader.rows(
    "SELECT minute, name, mean * 1.0 / per_unit FROM sample JOIN signal ON signal.id = signal " +
      "WHERE minute >= ? AND minute < ? ORDER BY minute",
    fromMinute,
    toMinute,
  );
  const minutes: number[] = [];
  const means = new Map<string, (number | null)[]>();
  for (const row of rows) {
    const minute = numberIn(row, 0);
    if (minute !== minutes.at(-1)) minutes.push(minute);
    const name = textIn(row, 1);
    const column = means.get(name) ?? [];
    means.set(name, column);
    while (column.length < minutes.length - 1) column.push(null);
    column.push(numberIn(row, 2));
  }
  for (const column of means.values()) {
    while (column.length < minutes.length) column.push(null);
  }
  return { minutes, means, chargeStages: chargeStagesOf(reader, minutes) };
}

/** One that has stood for more than a day is of a run that has ended. */
function chargeStagesOf(reader: Reader, minutes: readonly number[]): (string | null)[] {
  const [first] = minutes;
  const last = minutes.at(-1);
  if (first === undefined || last === undefined || !hasWords(reader)) {
    return minutes.map(() => null);
  }
  const words = reader.rows(
    "SELECT at_ms, text FROM word WHERE name = ? AND at_ms >= ? AND at_ms < ? ORDER BY at_ms, id",
    CHARGE_STAGE,
    first * MINUTE_MS - DAY_MS,
    (last + 1) * MINUTE_MS,
  );
  let next = 0;
  let stage = "";
  return minutes.map((minute) => {
    for (let row = words[next]; row !== undefined; row = words[next]) {
      if (numberIn(row, 0) >= (minute + 1) * MINUTE_MS) break;
      stage = textIn(row, 1);
      next += 1;
    }
    return stage === "" ? null : stage;
  });
}

/** A database that no newer service has opened yet has none. */
function hasWords(reader: Reader): boolean {
  return reader.rows("SELECT 1 FROM sqlite_schema WHERE name = 'word'").length > 0;
}
