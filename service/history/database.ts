/**
 * The database file: opened, checked, and set aside if it is damaged. Nothing is ever deleted.
 *
 * It runs in WAL with `synchronous=NORMAL`: what is committed survives the end of the process, and
 * a power cut leaves a sound database that may lack the last commits. For a memory card that is the
 * right bargain: it is not made to wait at each commit.
 */
import { existsSync, mkdirSync } from "node:fs";
import { dirname } from "node:path";
import { fileTime, setAside } from "./aside.ts";
import { connect, isSoundDatabase } from "./connection.ts";
import type { Connection } from "./connection.ts";
import { migrate } from "./migrate.ts";
import type { Migration } from "./migrate.ts";

/** What may wait in the WAL before it goes into the file. [pages of 4 KiB] */
const CHECKPOINT_PAGES = 1_000;
const WAL_MAX_BYTES = 8 * 1024 * 1024;

export interface Opened {
  readonly connection: Connection;
  /** Where a damaged one was put; null if it was sound or there was none. */
  readonly damagedPath: string | null;
}

/** @throws Error of the database or the file system; NewerDatabase */
export function openDatabase(
  path: string,
  options: { readonly atMs: number; readonly migrations: readonly Migration[] },
): Opened {
  mkdirSync(dirname(path), { recursive: true });
  const isSound = !existsSync(path) || isSoundDatabase(path, "quick");
  const damagedPath = isSound ? null : setAside(path, `damaged-${fileTime(options.atMs)}`);
  const connection = connect(path);
  try {
    // auto_vacuum comes before the first table, or it has no effect.
    connection.exec(
      "PRAGMA auto_vacuum = INCREMENTAL; PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL; " +
        `PRAGMA wal_autocheckpoint = ${CHECKPOINT_PAGES}; ` +
        `PRAGMA journal_size_limit = ${WAL_MAX_BYTES}`,
    );
    migrate({ connection, path, ...options });
    return { connection, damagedPath };
  } catch (error) {
    connection.close();
    throw error;
  }
}
