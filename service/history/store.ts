/**
 * Rows on their way into the database: kept until a transaction has taken them, and no more of them
 * than a limit. Whatever the disk does, nothing is thrown at the caller: a fault is told once, what
 * is lost is counted, and writing goes on by itself when it can.
 */
import { existsSync } from "node:fs";
import { codeOf, isDamage } from "./connection.ts";
import type { Connection } from "./connection.ts";
import { openDatabase } from "./database.ts";
import type { Migration } from "./migrate.ts";
import { statementOf } from "./rows.ts";
import type { Row } from "./rows.ts";

export interface Instant {
  readonly wallMs: number;
  readonly monotonicMs: number;
}

export type Say = (level: "info" | "warn", message: string, fields: object) => void;

export interface StoreOptions {
  readonly path: string;
  readonly migrations: readonly Migration[];
  readonly say: Say;
  /** Rows that wait for a disk; the oldest go first. */
  readonly rowsMax: number;
}

export interface Store {
  readonly add: (row: Row) => void;
  /**
   * One transaction with all that waits.
   *
   * @param isPatient - After a fault, it is tried again only once a minute.
   * @returns True if all that was added before is written.
   */
  readonly commit: (now: Instant, isPatient: boolean) => boolean;
  /** Reads or tidies; null while there is no database. Its errors are told as a fault. */
  readonly use: <T>(now: Instant, work: (connection: Connection) => T) => T | null;
  readonly droppedCount: () => number;
  readonly isWriting: () => boolean;
  readonly close: () => void;
}

/** Between two tries to write. [ms] */
const RETRY_MS = 60_000;
/** The disk may recover from these with the same connection. */
const PASSING = ["SQLITE_FULL", "SQLITE_BUSY"];

interface State {
  readonly options: StoreOptions;
  connection: Connection | null;
  waiting: Row[];
  fault: { readonly since: Instant; triedMs: number; dropped: number } | null;
  droppedCount: number;
}

export function createStore(options: StoreOptions): Store {
  const state: State = {
    options,
    connection: null,
    waiting: [],
    fault: null,
    droppedCount: 0,
  };
  return {
    add(row) {
      state.waiting.push(row);
      if (state.waiting.length <= options.rowsMax) return;
      state.waiting.shift();
      drop(state, 1);
    },
    commit(now, isPatient) {
      if (isPatient && isTooSoon(state, now)) return false;
      return attempt(state, now, (connection) => write(state, connection)) !== null;
    },
    use(now, work) {
      return isTooSoon(state, now) ? null : attempt(state, now, work);
    },
    droppedCount: () => state.droppedCount,
    isWriting: () => state.fault === null && state.connection !== null,
    close: () => disconnect(state),
  };
}

function isTooSoon({ fault }: State, now: Instant): boolean {
  return fault !== null && now.monotonicMs - fault.triedMs < RETRY_MS;
}

function attempt<T>(state: State, now: Instant, work: (connection: Connection) => T): T | null {
  try {
    // Whoever took the file away meant the rest to go elsewhere than into a file without a name.
    if (state.connection !== null && !existsSync(state.options.path)) disconnect(state);
    state.connection ??= connectNow(state, now);
    const result = work(state.connection);
    recover(state, now);
    return result;
  } catch (error) {
    fail(state, now, error);
    return null;
  }
}

function connectNow(state: State, now: Instant): Connection {
  const { path, migrations, say } = state.options;
  const opened = openDatabase(path, { atMs: now.wallMs, migrations });
  if (opened.damagedPath !== null) {
    const fields = { keptAs: opened.damagedPath };
    say("warn", "the history was damaged: it is set aside, and a new one begins", fields);
  }
  return opened.connection;
}

function write(state: State, connection: Connection): true {
  const rows = state.waiting;
  if (rows.length === 0 && state.fault === null) return true;
  try {
    connection.exec(["BEGIN IMMEDIATE", ...rows.map(statementOf), "COMMIT"].join(";\n"));
  } catch (error) {
    if (connection.inTransaction) connection.exec("ROLLBACK");
    throw error;
  }
  state.waiting = [];
  return true;
}

/** A row that the database refuses would be refused for ever, and hold up all that follow. */
function isOurMistake(error: unknown): boolean {
  return /^SQLITE_(CONSTRAINT|ERROR|MISMATCH|RANGE|TOOBIG)/.test(codeOf(error));
}

function fail(state: State, now: Instant, error: unknown): void {
  const code = codeOf(error);
  if (!PASSING.includes(code)) disconnect(state);
  if (state.fault === null) {
    const reason = error instanceof Error ? error.message : String(error);
    const fields = { code, reason };
    state.options.say("warn", "the history cannot be written; control goes on", fields);
    state.fault = { since: now, triedMs: now.monotonicMs, dropped: 0 };
  }
  if (isOurMistake(error)) drop(state, state.waiting.splice(0).length);
  // Damage is not waited for: the next try sets it aside.
  state.fault.triedMs = isDamage(error) ? -Infinity : now.monotonicMs;
}

function recover(state: State, now: Instant): void {
  const { fault, options } = state;
  if (fault === null) return;
  state.fault = null;
  const { since, dropped } = fault;
  state.waiting.push({ kind: "gap", values: [since.wallMs, now.wallMs, dropped, "not writable"] });
  options.say("info", "the history is written again", { dropped });
}

function drop(state: State, count: number): void {
  state.droppedCount += count;
  if (state.fault !== null) state.fault.dropped += count;
}

function disconnect(state: State): void {
  const { connection } = state;
  state.connection = null;
  // The last connection takes what is in the WAL into the file.
  connection?.close();
}
