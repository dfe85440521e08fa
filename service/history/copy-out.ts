/** A consistent copy of a database that is in use. */
import { rmSync } from "node:fs";
import { isSoundDatabase } from "./connection.ts";
import type { Connection } from "./connection.ts";
import { literal } from "./literal.ts";
import { settle } from "./replace-file.ts";

/**
 * The copy appears under its name only once it is whole, checked and on the disk. One that was
 * there before is replaced.
 *
 * @throws Error of the database or the file system; nothing is left behind then.
 */
export function copyOut(connection: Connection, target: string): void {
  const unfinished = `${target}.unfinished`;
  rmSync(unfinished, { force: true });
  try {
    connection.exec(`VACUUM INTO ${literal(unfinished)}`);
    if (!isSoundDatabase(unfinished, "whole")) throw new Error("the copy is not sound");
    settle(unfinished, target);
  } catch (error) {
    rmSync(unfinished, { force: true });
    throw error;
  }
}
