/** Brings a database of an older version to the present one, step by step, with a copy of each. */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { fileTime } from "./aside.ts";
import { APPLICATION_ID, isOfVersion } from "./connection.ts";
import type { Connection } from "./connection.ts";
import { copyOut } from "./copy-out.ts";

export interface Migration {
  /** 1 makes the first version out of nothing. */
  readonly version: number;
  readonly sql: string;
}

/** Made by a newer program: this one must not write to it. */
export class NewerDatabase extends Error {
  override readonly name = "NewerDatabase";
}

/** The files beside this one, in order. */
export function readMigrations(): readonly Migration[] {
  const folder = fileURLToPath(new URL("./migrations/", import.meta.url));
  return readdirSync(folder)
    .filter((name) => /^\d{3}[.]sql$/.test(name))
    .sort()
    .map((name) => ({
      version: Number(name.slice(0, 3)),
      sql: readFileSync(join(folder, name), "utf8"),
    }));
}

/** @throws NewerDatabase; Error of the database, which is then as it was. */
export function migrate(options: {
  readonly connection: Connection;
  readonly path: string;
  readonly atMs: number;
  readonly migrations: readonly Migration[];
}): void {
  const { connection, path, atMs, migrations } = options;
  const newest = migrations.at(-1)?.version ?? 0;
  const known = [0, ...migrations.map(({ version }) => version)];
  const found = known.find((version) => isOfVersion(connection, version));
  if (found === undefined) {
    throw new NewerDatabase(`the history is of a version above ${newest}, of a newer program`);
  }
  for (const { version, sql } of migrations) {
    if (version <= found) continue;
    if (found > 0) copyOut(connection, `${path}.before-${version}-${fileTime(atMs)}`);
    connection.exec("BEGIN IMMEDIATE");
    try {
      connection.exec(sql);
      connection.exec(
        `PRAGMA application_id = ${APPLICATION_ID}; PRAGMA user_version = ${version}; COMMIT`,
      );
    } catch (error) {
      if (connection.inTransaction) connection.exec("ROLLBACK");
      throw error;
    }
  }
}
