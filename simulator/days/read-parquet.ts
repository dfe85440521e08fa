/** Reads the day files that `write-parquet.ts` describes, and like ones that others wrote. */
import { brotliDecompressSync, gunzipSync } from "node:zlib";
import { asyncBufferFromFile, parquetMetadataAsync, parquetScan, parquetSchema } from "hyparquet";
import type { FileMetaData, ParquetScan, SchemaElement } from "hyparquet";
import { UserError } from "../../service/errors.ts";
import type { UserProblem } from "../../service/errors.ts";
import { readComments } from "./day-comments.ts";
import { CHARGE_STAGES } from "./day-file.ts";
import type { DaySeries } from "./day-file.ts";
import { checkHeader } from "./day-header.ts";
import { createPlausibility } from "./plausibility.ts";
import { checkOrder, checkRange, readStamp } from "./row-values.ts";
import type { FieldAt, Stamp } from "./row-values.ts";
import { createSeriesBuilder } from "./series-builder.ts";
import type { CheckedRow } from "./series-builder.ts";

/** Rows that are decoded at once. */
const SLICE_ROWS = 20_000;
const PROBLEMS_MAX = 10;

/** @throws UserError with the first problems, each at its row. */
export async function* readDayParquet(path: string): AsyncGenerator<DaySeries> {
  const { scan, metadata } = await openScan(path);
  const columns = columnsOf(metadata, path);
  const comments = readComments(commentsOf(metadata, path));
  const builder = createSeriesBuilder({ name: path, columns, comments, cut: "days" });
  const plausibility = createPlausibility(path);
  const hasOffset = elementOf(metadata, "utc_offset_s") !== undefined;
  const names = ["time", ...columns, ...(hasOffset ? ["utc_offset_s"] : [])];
  const check = createRowCheck(path, columns);
  for (const { rowStart, rowEnd } of slices(scan)) {
    const read = async (column: string): Promise<ArrayLike<unknown>> =>
      decoded(path, () => scan.readColumn({ column, rowStart, rowEnd }));
    const data = new Map<string, ArrayLike<unknown>>();
    for (const name of names) data.set(name, await read(name));
    const problems: UserProblem[] = [];
    for (let row = 0; row < rowEnd - rowStart && problems.length < PROBLEMS_MAX; row += 1) {
      const valueOf = (name: string): unknown => data.get(name)?.[row];
      const checked = check(valueOf, rowStart + row + 1, problems);
      if (checked === null || problems.length > 0) continue;
      const piece = builder.add(checked);
      if (piece !== null) yield judged(piece);
    }
    if (problems.length > 0) throw new UserError(problems.slice(0, PROBLEMS_MAX));
  }
  const last = builder.end();
  if (last === null) throw problemOf(path, "no rows", "a day file with rows");
  yield judged(last);

  function judged(piece: DaySeries): DaySeries {
    plausibility.look(piece);
    plausibility.judge();
    return piece;
  }
}

async function openScan(
  path: string,
): Promise<{ readonly scan: ParquetScan; readonly metadata: FileMetaData }> {
  return decoded(path, async () => {
    const file = await asyncBufferFromFile(path);
    const metadata = await parquetMetadataAsync(file, { geoparquet: false });
    const compressors = {
      GZIP: (input: Uint8Array) => new Uint8Array(gunzipSync(input)),
      BROTLI: (input: Uint8Array) => new Uint8Array(brotliDecompressSync(input)),
    };
    return { metadata, scan: await parquetScan({ file, metadata, compressors }) };
  });
}

/** What the library throws is about the file: it has been handed nothing else. */
async function decoded<T>(path: string, decode: () => Promise<T>): Promise<T> {
  try {
    return await decode();
  } catch (error) {
    const found = error instanceof Error ? error.message : String(error);
    throw problemOf(path, found, "a whole Parquet file");
  }
}

function* slices(scan: ParquetScan): Generator<{ rowStart: number; rowEnd: number }> {
  for (const range of scan.ranges) {
    for (let from = range.rowStart; from < range.rowEnd; from += SLICE_ROWS) {
      yield { rowStart: from, rowEnd: Math.min(range.rowEnd, from + SLICE_ROWS) };
    }
  }
}

function columnsOf(metadata: FileMetaData, path: string): readonly string[] {
  const { children } = parquetSchema(metadata);
  const names = children.map(({ element }) => element.name);
  const nested = children.find((child) => child.children.length > 0);
  if (nested !== undefined) {
    throw problemOf(path, `a nested column ${nested.element.name}`, "one value in each field");
  }
  refuseLocalTime(elementOf(metadata, "time"), path);
  const others = names.filter((name) => name !== "time" && name !== "utc_offset_s");
  return checkHeader(names.includes("time") ? ["time", ...others] : names, path);
}

function elementOf(metadata: FileMetaData, name: string): SchemaElement | undefined {
  return metadata.schema.slice(1).find((element) => element.name === name);
}

function refuseLocalTime(time: SchemaElement | undefined, path: string): void {
  const type = time?.logical_type;
  if (type?.type !== "TIMESTAMP" || type.isAdjustedToUTC) return;
  throw new UserError([
    {
      code: "day-time",
      where: path,
      key: "time",
      found: "a timestamp that is not adjusted to UTC",
      expected: "a timestamp adjusted to UTC, or RFC 3339 texts with an offset",
      suggestion: "local time alone does not say which of two hours it is when clocks go back",
    },
  ]);
}

function commentsOf(
  metadata: FileMetaData,
  path: string,
): ReadonlyMap<string, { readonly value: string; readonly where: string }> {
  const entries = metadata.key_value_metadata ?? [];
  return new Map(
    entries.map(({ key, value = "" }) => [key, { value, where: `${path}: metadata ${key}` }]),
  );
}

type RowCheck = (
  valueOf: (name: string) => unknown,
  row: number,
  problems: UserProblem[],
) => CheckedRow | null;

function createRowCheck(path: string, columns: readonly string[]): RowCheck {
  const values = new Float64Array(columns.length);
  let beforeMs: number | null = null;
  return (valueOf, row, problems) => {
    const where = `${path}: row ${row}`;
    const stamp = readInstant(valueOf("time"), valueOf("utc_offset_s"), where);
    if ("code" in stamp) problems.push(stamp);
    else {
      const text = new Date(stamp.atMs).toISOString();
      const problem = checkOrder(stamp, beforeMs, { where, text });
      if (problem !== null) problems.push(problem);
      beforeMs = stamp.atMs;
    }
    for (const [c, column] of columns.entries()) {
      const value = readCell(valueOf(column), { column, where });
      if (typeof value === "number") values[c] = value;
      else problems.push(value);
    }
    return "code" in stamp ? null : { ...stamp, values };
  };
}

function readInstant(time: unknown, offsetS: unknown, where: string): Stamp | UserProblem {
  if (typeof time === "string") return readStamp(time, where);
  if (!(time instanceof Date) || Number.isNaN(time.getTime())) {
    const found = shown(time);
    const expected = "a timestamp, or an RFC 3339 text with an offset";
    return { code: "day-time", where, found, expected };
  }
  const offset = offsetS ?? 0;
  const isOffset = typeof offset === "number" && Math.abs(offset) < 86_400 && offset % 60 === 0;
  if (isOffset) return { atMs: time.getTime(), offsetMs: offset * 1000 };
  const expected = "whole minutes, less than a day";
  return { code: "day-time", where, key: "utc_offset_s", found: shown(offset), expected };
}

function readCell(value: unknown, at: FieldAt): number | UserProblem {
  if (value === null || value === undefined) return NaN;
  if (at.column === "charge_stage" && typeof value === "string") {
    const stage = CHARGE_STAGES.findIndex((known) => known === value);
    if (stage >= 0) return stage;
  } else if (typeof value === "boolean" && at.column === "curtailed") return Number(value);
  else if (typeof value === "number" || typeof value === "bigint") {
    return checkRange(Number(value), at);
  }
  const isStage = at.column === "charge_stage";
  const expected = isStage ? CHARGE_STAGES.join(", ") : "a number, or null where it is missing";
  return { code: "day-value", where: at.where, key: at.column, found: shown(value), expected };
}

function shown(value: unknown): string {
  if (value === undefined) return "";
  return typeof value === "bigint" ? String(value) : JSON.stringify(value);
}

function problemOf(where: string, found: string, expected: string): UserError {
  return new UserError([{ code: "day-parquet", where, found, expected }]);
}
