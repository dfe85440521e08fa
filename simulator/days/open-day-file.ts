/** A day file of either form by its path. What it is shows in its first bytes, not in its name. */
import { closeSync, openSync, readSync } from "node:fs";
import type { DaySeries } from "./day-file.ts";
import { readDayCsvPieces } from "./read-csv.ts";
import { fileBytes, unreadable } from "./text-blocks.ts";

const MAGIC = "PAR1";

/** @throws UserError if the file cannot be read. */
export function isParquet(path: string): boolean {
  const bytes = new Uint8Array(MAGIC.length);
  try {
    const file = openSync(path, "r");
    try {
      readSync(file, bytes);
    } finally {
      closeSync(file);
    }
  } catch (error) {
    throw unreadable(path, error);
  }
  return new TextDecoder().decode(bytes) === MAGIC;
}

/** Piece by piece, as `readDayCsvPieces`. */
export function readDayCsvFile(path: string): Iterable<DaySeries> {
  return readDayCsvPieces({ name: path, bytes: fileBytes(path), cut: "days" });
}

/** Either form, piece by piece. The Parquet library is loaded only for a file that needs it. */
export async function* openDayPieces(path: string): AsyncGenerator<DaySeries> {
  if (!isParquet(path)) {
    yield* readDayCsvFile(path);
    return;
  }
  const { readDayParquet } = await import("./read-parquet.ts");
  yield* readDayParquet(path);
}
