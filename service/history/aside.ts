/** Files that are kept under another name: nothing of the history is deleted by a fault. */
import { existsSync, renameSync } from "node:fs";

const COMPANIONS = ["", "-wal", "-shm"];

/** @returns The new path; the companions of a database go with it. */
export function setAside(path: string, ending: string): string {
  let target = `${path}.${ending}`;
  for (let number = 2; existsSync(target); number += 1) target = `${path}.${ending}-${number}`;
  for (const companion of COMPANIONS) {
    if (existsSync(path + companion)) renameSync(path + companion, target + companion);
  }
  return target;
}

/** A time that file systems take: `20260615T100000Z`. */
export function fileTime(atMs: number): string {
  const date = new Date(atMs);
  const text = Number.isNaN(date.getTime()) ? "unknown" : date.toISOString();
  return text.replace(/[-:]|[.]\d+/g, "");
}
