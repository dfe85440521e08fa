/** What can be written to the database: one statement for each kind of row. */
import { literal } from "./literal.ts";
import type { Value } from "./literal.ts";

export interface Row {
  readonly kind: keyof typeof STATEMENTS;
  readonly values: readonly Value[];
}

/** A row says the same when it is written twice, or is one more of its kind. */
const STATEMENTS = {
  signal: "INSERT OR IGNORE INTO signal (name, per_unit) VALUES (?, ?)",
  sample:
    "INSERT OR REPLACE INTO sample (minute, signal, mean, below, above) " +
    "VALUES (?, (SELECT id FROM signal WHERE name = ?), ?, ?, ?)",
  event: "INSERT INTO event (at_ms, about, owner, change, code) VALUES (?, ?, ?, ?, ?)",
  decision:
    "INSERT INTO decision (at_ms, about, owner, code, stage, measured, limit_value) " +
    "VALUES (?, ?, ?, ?, ?, ?, ?)",
  command:
    "INSERT INTO command (at_ms, about, owner, stage, acknowledged_ms) VALUES (?, ?, ?, ?, ?)",
  confirmation:
    "UPDATE command SET confirmed_ms = ? WHERE confirmed_ms IS NULL AND id = " +
    "(SELECT max(id) FROM command WHERE about = ? AND owner = ?)",
  override: "INSERT INTO override (at_ms, about, owner, request) VALUES (?, ?, ?, ?)",
  memory:
    "INSERT OR REPLACE INTO memory (local_day, at_ms, code_version, body) VALUES (?, ?, ?, ?)",
  settings: "INSERT OR IGNORE INTO settings (hash, body) VALUES (?, ?)",
  day:
    "INSERT OR IGNORE INTO day (local_day, settings_hash, code_version, first_ms) " +
    "VALUES (?, ?, ?, ?)",
  word: "INSERT INTO word (at_ms, name, text) VALUES (?, ?, ?)",
  figures: "INSERT OR REPLACE INTO day_figures (local_day, at_ms, body) VALUES (?, ?, ?)",
  gap: "INSERT INTO gap (from_ms, to_ms, dropped, reason) VALUES (?, ?, ?, ?)",
} as const;

export function statementOf({ kind, values }: Row): string {
  let next = 0;
  return STATEMENTS[kind].replaceAll("?", () => literal(values[next++] ?? null));
}
