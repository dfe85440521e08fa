/**
 * Reads the database while another thread or process writes it.
 *
 * The file is opened for reading only: a statement of this package stays open until it is collected
 * as garbage, and what is opened for writing would then delete a WAL that is no longer its own
 * (`connection.ts`). Only this folder prepares statements.
 */
import { existsSync } from "node:fs";
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";
import Database from "libsql";
import { UserError } from "../../errors.ts";
import { literal } from "../literal.ts";
import type { Value } from "../literal.ts";

const BUSY_MS = 5_000;

export type RawRow = readonly unknown[];

export interface Reader {
  /** @throws Error of the database */
  readonly rows: (sql: string, ...values: readonly Value[]) => readonly RawRow[];
  readonly close: () => void;
}

/** @throws UserError if there is no history; Error of the database */
export function openReader(path: string): Reader {
  if (!existsSync(path)) {
    throw new UserError([
      { code: "history-missing", where: path, expected: "the history of a service that has run" },
    ]);
  }
  const connection = new Database(`${pathToFileURL(resolve(path)).href}?mode=ro`);
  connection.exec(`PRAGMA busy_timeout = ${BUSY_MS}; PRAGMA temp_store = MEMORY`);
  return {
    rows(sql, ...values) {
      let next = 0;
      const text = sql.replaceAll("?", () => literal(values[next++] ?? null));
      return connection.prepare(text).raw().all().filter(isRow);
    },
    close: () => connection.close(),
  };
}

function isRow(row: unknown): row is RawRow {
  return Array.isArray(row);
}

/** @returns NaN for what is none. */
export function numberIn(row: RawRow, place: number): number {
  const value = row[place];
  return typeof value === "number" ? value : NaN;
}

export function textIn(row: RawRow, place: number): string {
  const value = row[place];
  return typeof value === "string" ? value : "";
}

export function numberOrNullIn(row: RawRow, place: number): number | null {
  const value = row[place];
  return typeof value === "number" ? value : null;
}
