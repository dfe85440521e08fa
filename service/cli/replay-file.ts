import { writeFileSync } from "node:fs";
import { UserError } from "../errors.ts";

const REASONS: Readonly<Record<string, string>> = {
  ENOENT: "no such folder",
  EISDIR: "a folder",
  EACCES: "may not be written",
  EROFS: "may not be written",
};

/** @throws UserError where nothing may be written. */
export function writeReportFile(path: string, text: string): void {
  try {
    writeFileSync(path, text);
  } catch (error) {
    const code = error instanceof Error && "code" in error ? String(error.code) : "";
    const found = REASONS[code];
    if (found === undefined) throw error;
    throw new UserError([
      { code: "file-unwritable", where: path, found, expected: "a file that may be written" },
    ]);
  }
}
