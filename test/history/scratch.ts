/** A folder of the test's own, and questions to the database in it. */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import Database from "libsql";
import { afterEach } from "vitest";

/** Gone after each test of the file. */
export function scratchFolders(): () => string {
  const folders: string[] = [];
  afterEach(() => {
    for (const folder of folders.splice(0)) rmSync(folder, { recursive: true, force: true });
  });
  return () => {
    const folder = mkdtempSync(join(tmpdir(), "bywash-history-"));
    folders.push(folder);
    return folder;
  };
}

/** What another program sees in the file; a copy is asked, so that the file itself is let go. */
export function query(path: string, sql: string): unknown[][] {
  const copy = join(mkdtempSync(join(tmpdir(), "bywash-query-")), "copy.db");
  execute(path, `VACUUM INTO '${copy}'`);
  const connection = new Database(copy);
  try {
    return connection.prepare(sql).raw().all() as unknown[][];
  } finally {
    connection.close();
    rmSync(dirname(copy), { recursive: true });
  }
}

export function execute(path: string, sql: string): void {
  const connection = new Database(path);
  try {
    connection.exec(sql);
  } finally {
    connection.close();
  }
}
