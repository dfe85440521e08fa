/** Files that are there as a whole or not at all, whatever happens meanwhile. */
import { closeSync, fsyncSync, openSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { dirname } from "node:path";

/** @throws Error of the file system; the file is then what it was. */
export function replaceFile(path: string, content: Uint8Array): void {
  const unfinished = `${path}.unfinished`;
  try {
    writeFileSync(unfinished, content, { mode: 0o600 });
    settle(unfinished, path);
  } catch (error) {
    rmSync(unfinished, { force: true });
    throw error;
  }
}

/** Gives a finished file its name, so that a power cut leaves the old one or the whole new one. */
export function settle(unfinished: string, target: string): void {
  sync(unfinished);
  renameSync(unfinished, target);
  sync(dirname(target));
}

function sync(path: string): void {
  const file = openSync(path, "r");
  try {
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
}
