/**
 * What is past its time goes, a little at a time: at most two days' worth for each day that passes,
 * so that a clock that is wrong by years cannot take the whole history with it.
 *
 * Freed pages are used again, so that a history at its full age neither grows nor is rewritten.
 * Only when much of the file is free, after a limit was lowered, is some of it given back each day.
 */
import { holds } from "./connection.ts";
import type { Connection } from "./connection.ts";

export interface Retention {
  readonly samplesKeptDays: number;
  readonly eventsKeptDays: number;
}

const DAY_MS = 86_400_000;
const MINUTE_MS = 60_000;
const DAYS_AT_ONCE = 2;
/** Below this share of free pages the file is left as it is. */
const FREE_SHARE_MAX = 0.25;
const PAGES_AT_ONCE = 2_000;

interface Dated {
  readonly table: string;
  readonly column: string;
  /** [ms] */
  readonly unitMs: number;
  readonly keptDays: (retention: Retention) => number;
}

const DATED: readonly Dated[] = [
  dated("sample", ["minute", MINUTE_MS], (kept) => kept.samplesKeptDays),
  dated("decision", ["at_ms", 1], (kept) => kept.samplesKeptDays),
  dated("memory", ["at_ms", 1], (kept) => kept.samplesKeptDays),
  dated("word", ["at_ms", 1], (kept) => kept.samplesKeptDays),
  dated("event", ["at_ms", 1], (kept) => kept.eventsKeptDays),
  dated("command", ["at_ms", 1], (kept) => kept.eventsKeptDays),
  dated("override", ["at_ms", 1], (kept) => kept.eventsKeptDays),
  dated("gap", ["from_ms", 1], (kept) => kept.eventsKeptDays),
  dated("day", ["first_ms", 1], (kept) => kept.eventsKeptDays),
  dated("day_figures", ["at_ms", 1], (kept) => kept.eventsKeptDays),
];

function dated(
  table: string,
  [column, unitMs]: readonly [string, number],
  keptDays: Dated["keptDays"],
): Dated {
  return { table, column, unitMs, keptDays };
}

/** To be called once a local day. @throws Error of the database */
export function dropOldRows(connection: Connection, retention: Retention, wallMs: number): void {
  for (const { table, column, unitMs, keptDays } of DATED) {
    const limit = Math.floor((wallMs - keptDays(retention) * DAY_MS) / unitMs);
    const atOnce = Math.floor((DAYS_AT_ONCE * DAY_MS) / unitMs);
    connection.exec(
      `DELETE FROM ${table} WHERE ${column} < ` +
        `min(${limit}, (SELECT min(${column}) FROM ${table}) + ${atOnce})`,
    );
  }
  connection.exec("DELETE FROM settings WHERE hash NOT IN (SELECT settings_hash FROM day)");
  const free = "(SELECT freelist_count FROM pragma_freelist_count)";
  const all = "(SELECT page_count FROM pragma_page_count)";
  if (holds(connection, `${free} > ${FREE_SHARE_MAX} * ${all}`)) {
    connection.exec(`PRAGMA incremental_vacuum(${PAGES_AT_ONCE})`);
  }
}
