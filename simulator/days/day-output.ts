/**
 * Day files on their way to the disk. Everything is written beside its place first and put there at
 * the very end, so that no reader sees half a file and a failure leaves the old ones as they were.
 */
import { closeSync, existsSync, fsyncSync, openSync, renameSync, rmSync, writeSync } from "node:fs";
import { basename, dirname, extname, join } from "node:path";
import { UserError } from "../../service/errors.ts";
import { rowsOf } from "./cut-series.ts";
import type { DaySeries } from "./day-file.ts";
import { dayCsvHead, dayCsvRows } from "./write-csv.ts";

const DAY_MS = 86_400_000;

export interface OutputOptions {
  /** Ends in `.csv` or `.parquet`. */
  readonly path: string;
  /** A file for each local day, its date at the end of the name. */
  readonly isSplit: boolean;
  readonly mayReplace: boolean;
}

export interface DayOutput {
  write(piece: DaySeries): void;
  /** @returns the paths of the files that are there now. */
  commit(): readonly string[];
  /** Nothing of it stays. */
  discard(): void;
}

interface PartWriter {
  write(piece: DaySeries): void;
  end(): void;
}

type OpenPart = (path: string, first: DaySeries) => PartWriter;

/** @throws UserError for a name that ends in neither form, or a file that is there already. */
export async function createDayOutput(options: OutputOptions): Promise<DayOutput> {
  const openPart = await partOpener(options.path);
  if (!options.isSplit) refuseExisting(options.path, options);
  const parts = new Map<string, string>();
  let open: { readonly path: string; readonly writer: PartWriter } | null = null;
  return {
    write(piece) {
      const days = options.isSplit ? localDays(piece) : [piece];
      for (const day of days) partFor(day).write(day);
    },
    commit() {
      open?.writer.end();
      for (const temporary of parts.values()) flush(temporary);
      for (const [path, temporary] of parts) renameSync(temporary, path);
      return [...parts.keys()];
    },
    discard() {
      for (const temporary of parts.values()) rmSync(temporary, { force: true });
    },
  };

  function partFor(day: DaySeries): PartWriter {
    const path = options.isSplit ? pathOfDay(options.path, day) : options.path;
    if (open?.path === path) return open.writer;
    open?.writer.end();
    refuseExisting(path, options);
    const temporary = join(dirname(path), `.${basename(path)}.${process.pid}.part`);
    parts.set(path, temporary);
    const writer = opened(temporary, path, day);
    open = { path, writer };
    return writer;
  }

  function opened(temporary: string, path: string, day: DaySeries): PartWriter {
    try {
      return openPart(temporary, day);
    } catch (error) {
      throw unwritable(path, error);
    }
  }
}

async function partOpener(path: string): Promise<OpenPart> {
  const extension = extname(path).toLowerCase();
  if (extension === ".csv") return openCsv;
  if (extension === ".parquet") return (await import("./write-parquet.ts")).createParquetWriter;
  const expected = "a name that ends in .csv or .parquet";
  throw new UserError([{ code: "out-form", where: `--out ${path}`, expected }]);
}

function openCsv(path: string, first: DaySeries): PartWriter {
  const file = openSync(path, "w");
  writeSync(file, dayCsvHead(first));
  return {
    write: (piece) => writeSync(file, dayCsvRows(piece)),
    end: () => closeSync(file),
  };
}

/** On the disk before it gets its name, so that a power cut leaves the old file or the new one. */
function flush(path: string): void {
  const file = openSync(path, "r+");
  try {
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
}

function refuseExisting(path: string, { mayReplace }: OutputOptions): void {
  if (mayReplace || !existsSync(path)) return;
  throw new UserError([
    {
      code: "out-exists",
      where: path,
      found: "a file that is there already",
      expected: "a new name",
      suggestion: "--force replaces it",
    },
  ]);
}

function unwritable(path: string, error: unknown): unknown {
  const code = error instanceof Error && "code" in error ? String(error.code) : "";
  const found = { ENOENT: "no such folder", EACCES: "a folder that may not be written" }[code];
  if (found === undefined) return error;
  return new UserError([{ code: "out-unwritable", where: path, found, expected: "a folder" }]);
}

function pathOfDay(path: string, day: DaySeries): string {
  const extension = extname(path);
  const date = new Date(localDay(day, 0) * DAY_MS).toISOString().slice(0, 10);
  return `${path.slice(0, -extension.length)}-${date}${extension}`;
}

function localDay(series: DaySeries, row: number): number {
  const offsetMs = series.utcOffsetsMs?.[row] ?? series.place?.utcOffsetMs ?? 0;
  return Math.floor(((series.timesMs[row] ?? 0) + offsetMs) / DAY_MS);
}

/** The piece cut at each local midnight. */
function* localDays(piece: DaySeries): Generator<DaySeries> {
  let from = 0;
  for (let row = 1; row <= piece.timesMs.length; row += 1) {
    const isEnd = row === piece.timesMs.length || localDay(piece, row) !== localDay(piece, from);
    if (!isEnd) continue;
    yield rowsOf(piece, from, row);
    from = row;
  }
}
