/**
 * One connection to SQLite, and what its errors mean.
 *
 * Everything goes through `exec`. A prepared statement of this package keeps the database open
 * until it is collected as garbage, however long ago `close` was called; and such a late closing
 * deletes the WAL by its name, which may by then be that of a new database. What `exec` has run is
 * over.
 */
import Database from "libsql";

export type Connection = Database.Database;

/** "Bywh", so that other programs' databases are not taken for ours. */
export const APPLICATION_ID = 0x42797768;
/** How long another process may hold the database: a backup, mostly. [ms] */
const BUSY_MS = 5_000;

/** @throws Error of the database or the file system */
export function connect(path: string): Connection {
  const connection = new Database(path);
  connection.exec(`PRAGMA busy_timeout = ${BUSY_MS}; PRAGMA temp_store = MEMORY`);
  return connection;
}

/**
 * Asks by a constraint, since `exec` gives no rows.
 *
 * @param condition - In SQL; what is not known does not hold.
 * @throws Error of the database
 */
export function holds(connection: Connection, condition: string): boolean {
  connection.exec("CREATE TEMP TABLE IF NOT EXISTS truth (holds INTEGER NOT NULL CHECK (holds))");
  try {
    connection.exec(`INSERT INTO truth SELECT ${condition}; DELETE FROM truth`);
    return true;
  } catch (error) {
    if (codeOf(error).startsWith("SQLITE_CONSTRAINT")) return false;
    throw error;
  }
}

/** @param version - 0: of a database in which nothing is yet. */
export function isOfVersion(connection: Connection, version: number): boolean {
  return holds(connection, `(SELECT user_version FROM pragma_user_version) = ${version}`);
}

/**
 * @param how - `quick` leaves out whether indices agree with their tables.
 * @returns False for what is damaged or no database of ours.
 * @throws Error where that cannot be told: no permission, a bad disk, a database in use.
 */
export function isSoundDatabase(path: string, how: "quick" | "whole"): boolean {
  let connection: Connection | null = null;
  try {
    connection = connect(path);
    const check = how === "quick" ? "quick_check" : "integrity_check";
    const owner = "(SELECT application_id FROM pragma_application_id)";
    return (
      holds(connection, `NOT EXISTS (SELECT 1 FROM pragma_${check} WHERE ${check} <> 'ok')`) &&
      (isOfVersion(connection, 0) || holds(connection, `${owner} = ${APPLICATION_ID}`))
    );
  } catch (error) {
    if (isDamage(error)) return false;
    throw error;
  } finally {
    connection?.close();
  }
}

export function isDamage(error: unknown): boolean {
  const code = codeOf(error);
  return code.startsWith("SQLITE_CORRUPT") || code === "SQLITE_NOTADB";
}

/** @returns `SQLITE_FULL`, `EACCES`; empty if it has none. */
export function codeOf(error: unknown): string {
  if (!(error instanceof Error) || !("code" in error)) return "";
  const { code } = error;
  return typeof code === "string" ? code : "";
}
