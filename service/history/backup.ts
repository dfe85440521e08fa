/** Copies of the database out of the folder and back into it, for a person at the command line. */
import { existsSync, mkdirSync, realpathSync, renameSync } from "node:fs";
import { basename, dirname, join } from "node:path";
import { UserError } from "../errors.ts";
import { fileTime, setAside } from "./aside.ts";
import { codeOf, connect, isDamage, isOfVersion, isSoundDatabase } from "./connection.ts";
import { copyOut } from "./copy-out.ts";
import { readMigrations } from "./migrate.ts";
import { DATABASE_FILE } from "./scribe.ts";

/** A service that runs holds the database all the time: there is no use in waiting. [ms] */
const IN_USE_MS = 500;

/**
 * Copies the database while the service runs, or not.
 *
 * @throws UserError; Error of the database or the file system, and then there is no copy.
 */
export function backUp(folder: string, target: string): void {
  const path = join(folder, DATABASE_FILE);
  if (!existsSync(path)) {
    throw new UserError([
      { code: "history-missing", where: path, expected: "the history of a service that has run" },
    ]);
  }
  refuseOwnFile(path, target);
  if (!isSoundDatabase(path, "quick")) throw unsound(path, "a sound database, to be copied");
  const connection = connect(path);
  try {
    copyOut(connection, target);
  } finally {
    connection.close();
  }
}

export interface Restored {
  readonly path: string;
  /** Where the history is that was there before; null if there was none. */
  readonly previousPath: string | null;
}

/**
 * Puts a copy in place of the database, and keeps what was there under another name.
 *
 * @throws UserError; Error of the database or the file system, and then all is as it was.
 */
export function restore(options: {
  readonly folder: string;
  readonly source: string;
  readonly atMs: number;
}): Restored {
  const { folder, source, atMs } = options;
  const path = join(folder, DATABASE_FILE);
  if (!existsSync(source)) {
    throw new UserError([
      { code: "backup-missing", where: source, expected: "a file that `bywash backup` has made" },
    ]);
  }
  refuseOwnFile(path, source);
  if (!isSoundDatabase(source, "whole")) throw unsound(source, "a sound backup");
  mkdirSync(folder, { recursive: true });
  if (existsSync(path)) refuseInUse(path);
  const incoming = `${path}.restored`;
  copyIn(source, incoming);
  const isThere = existsSync(path);
  const previousPath = isThere ? setAside(path, `replaced-${fileTime(atMs)}`) : null;
  renameSync(incoming, path);
  return { path, previousPath };
}

function copyIn(source: string, incoming: string): void {
  const versions = readMigrations().map(({ version }) => version);
  const connection = connect(source);
  try {
    if (!versions.some((version) => isOfVersion(connection, version))) {
      throw new UserError([
        {
          code: "backup-version",
          where: source,
          expected: `a history of version ${versions.join(" or ")}`,
          suggestion: "restore it with the program that made it, or a newer one",
        },
      ]);
    }
    copyOut(connection, incoming);
  } finally {
    connection.close();
  }
}

/** Only the one user of a database can leave the WAL; so it also becomes a single whole file. */
function refuseInUse(path: string): void {
  const connection = connect(path);
  try {
    connection.exec(`PRAGMA busy_timeout = ${IN_USE_MS}; PRAGMA journal_mode = DELETE`);
  } catch (error) {
    // A damaged one is nobody's, and is set aside as it is.
    if (isDamage(error)) return;
    if (codeOf(error) !== "SQLITE_BUSY") throw error;
    throw new UserError([
      {
        code: "history-in-use",
        where: path,
        expected: "a history that no service is writing",
        suggestion: "stop the service, restore, and start it again",
      },
    ]);
  } finally {
    connection.close();
  }
}

function refuseOwnFile(path: string, other: string): void {
  if (!existsSync(dirname(other))) {
    throw new UserError([
      { code: "folder-missing", where: other, expected: "a file in a folder that exists" },
    ]);
  }
  const others = join(realpathSync(dirname(other)), basename(other));
  const own = existsSync(path) ? realpathSync(path) : path;
  if (others === own || others === `${own}-wal` || others === `${own}-shm`) {
    throw new UserError([
      { code: "history-itself", where: other, expected: "another file than the history itself" },
    ]);
  }
}

function unsound(path: string, expected: string): UserError {
  return new UserError([
    { code: "database-unsound", where: path, found: "a damaged one", expected },
  ]);
}
