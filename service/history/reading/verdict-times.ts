/** For how long each load was off for each reason, counted in minutes that were recorded. */
import type { DayTable } from "./day-table.ts";
import { numberIn, numberOrNullIn, textIn } from "./reader.ts";
import type { RawRow, Reader } from "./reader.ts";

export interface VerdictTime {
  readonly load: string;
  readonly code: string;
  minutes: number;
  /** Of these, those in which the arrays were held back. */
  heldBackMinutes: number;
  /** The numbers of the newest decision of that code. */
  measured: number | null;
  limit: number | null;
}

const MINUTE_MS = 60_000;
/** A decision stands until the next; one that is older is of a run that has ended. [ms] */
const STANDS_MAX_MS = 31 * 86_400_000;
const HALF = 0.5;

/** @param table - Minutes of one stretch. @throws Error of the database */
export function readVerdictTimes(
  reader: Reader,
  { minutes, curtailedFraction }: Pick<DayTable, "minutes" | "curtailedFraction">,
): readonly VerdictTime[] {
  const [first] = minutes;
  const last = minutes.at(-1);
  if (first === undefined || last === undefined) return [];
  const rows = reader.rows(
    "SELECT at_ms, owner, code, stage, measured, limit_value FROM decision " +
      "WHERE about = 'load' AND at_ms >= ? AND at_ms < ? ORDER BY at_ms, id",
    first * MINUTE_MS - STANDS_MAX_MS,
    (last + 1) * MINUTE_MS,
  );
  const standing = new Map<string, RawRow>();
  const times = new Map<string, VerdictTime>();
  let next = 0;
  for (const [place, minute] of minutes.entries()) {
    for (let row = rows[next]; row !== undefined; row = rows[next]) {
      if (numberIn(row, 0) >= (minute + 1) * MINUTE_MS) break;
      standing.set(textIn(row, 1), row);
      next += 1;
    }
    const isHeldBack = (curtailedFraction[place] ?? 0) >= HALF;
    for (const row of standing.values()) {
      if (numberIn(row, 3) === 0) count(times, row, isHeldBack);
    }
  }
  return [...times.values()];
}

function count(times: Map<string, VerdictTime>, row: RawRow, isHeldBack: boolean): void {
  const [load, code] = [textIn(row, 1), textIn(row, 2)];
  const key = `${load} ${code}`;
  let time = times.get(key);
  if (time === undefined) {
    time = { load, code, minutes: 0, heldBackMinutes: 0, measured: null, limit: null };
    times.set(key, time);
  }
  time.minutes += 1;
  if (isHeldBack) time.heldBackMinutes += 1;
  time.measured = numberOrNullIn(row, 4);
  time.limit = numberOrNullIn(row, 5);
}
