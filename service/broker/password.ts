/** The broker's password, which stands in no settings file. */
import { readFile } from "node:fs/promises";
import { UserError } from "../errors.ts";

/** @throws UserError if there is a file and it can't be read. */
export async function readPassword(file: string | null): Promise<string | null> {
  if (file === null) return null;
  try {
    return (await readFile(file, "utf8")).replace(/\r?\n$/u, "");
  } catch (error) {
    throw new UserError([
      {
        code: "password-file-unreadable",
        where: file,
        key: "broker.passwordFile",
        found: error instanceof Error ? error.message : String(error),
        expected: "a file with the broker password, readable by the service",
      },
    ]);
  }
}
