/**
 * What the core remembers, in a small file of its own: it is read before anything else at the start
 * and outlives damage to the database. It is replaced as a whole, so that a power cut leaves the
 * one before.
 */
import { readFileSync } from "node:fs";
import { brotliCompressSync, brotliDecompressSync, constants } from "node:zlib";
import type { Memory } from "../control/memory.ts";
import { replaceFile } from "./replace-file.ts";

/** What the last run remembered; its instants are of that run. */
export interface SavedMemory {
  readonly wallMs: number;
  readonly codeVersion: string;
  /** To be checked by whoever uses it: it may be of another version. */
  readonly body: unknown;
  /** How often good times came true, to be checked likewise; absent in older versions. */
  readonly times?: unknown;
}

/** The highest takes fifty times as long and saves a tenth. */
const QUALITY = 5;

/** JSON, packed to a fifth. */
export function packMemory(saved: SavedMemory & { readonly body: Memory }): Uint8Array {
  return brotliCompressSync(JSON.stringify(saved), {
    params: { [constants.BROTLI_PARAM_QUALITY]: QUALITY },
  });
}

/** @throws Error of the file system */
export function saveMemory(path: string, packed: Uint8Array): void {
  replaceFile(path, packed);
}

/** @returns null if there is none that can be read. */
export function loadMemory(path: string): SavedMemory | null {
  try {
    const text = brotliDecompressSync(readFileSync(path)).toString("utf8");
    const saved: unknown = JSON.parse(text);
    return isSavedMemory(saved) ? saved : null;
  } catch {
    return null;
  }
}

/** By hand: a library of schemas takes more memory in this thread than all that it writes. */
function isSavedMemory(saved: unknown): saved is SavedMemory {
  if (typeof saved !== "object" || saved === null) return false;
  if (!("wallMs" in saved) || !("codeVersion" in saved) || !("body" in saved)) return false;
  return typeof saved.wallMs === "number" && typeof saved.codeVersion === "string";
}
