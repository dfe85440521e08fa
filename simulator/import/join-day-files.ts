/** Day files one after the other as one. */
import { UserError } from "../../service/errors.ts";
import type { DaySeries } from "../days/day-file.ts";
import { openDayPieces } from "../days/open-day-file.ts";

/** @throws UserError if they are not in order of time, or differ in their columns or place. */
export async function* joinDayFiles(paths: readonly string[]): AsyncGenerator<DaySeries> {
  let first: DaySeries | null = null;
  let endMs = -Infinity;
  for (const path of paths) {
    for await (const piece of openDayPieces(path)) {
      first ??= piece;
      const [found, expected] = [descriptionOf(piece), descriptionOf(first)];
      if (found !== expected) throw mixed(path, found, expected);
      const startMs = piece.timesMs[0] ?? 0;
      if (startMs <= endMs) throw unordered(path, startMs);
      endMs = piece.timesMs.at(-1) ?? 0;
      yield piece;
    }
  }
}

function descriptionOf({ columns, place, stepMs }: DaySeries): string {
  const where =
    place === null ? "no place" : `${String(place.latitudeDeg)}, ${String(place.longitudeDeg)}`;
  return `${[...columns.keys()].join(", ")}; ${where}; step ${String(stepMs / 1000)} s`;
}

function mixed(where: string, found: string, expected: string): UserError {
  return new UserError([{ code: "import-mixed", where, found, expected }]);
}

function unordered(where: string, startMs: number): UserError {
  const found = `begins ${new Date(startMs).toISOString()}, before the file named before it ends`;
  return new UserError([
    { code: "day-order", where, found, expected: "day files in order of time" },
  ]);
}
