/** Some ticks of one shape as one packed piece. */
import { brotliCompressSync, brotliDecompressSync, constants } from "node:zlib";
import { createByteSink, createByteSource, DamagedBytes } from "./bytes.ts";
import { numbersOf, readColumn, writeColumn } from "./column.ts";
import { builderOf, leafCount, leafIndex } from "./shape.ts";
import type { Flat, Leaf } from "./shape.ts";

/** A block never comes near this; a length that does is damage. */
const ROWS_MAX = 100_000;
const UNPACKED_MAX = 64 * 1024 * 1024;
const TIME = "monotonicMs";
/** Higher ones take several times as long and save less than a hundredth. */
const QUALITY = 7;

/** @param rows - All of this shape. */
export function packRows(rows: readonly Flat[], shape: string): Uint8Array {
  const sink = createByteSink();
  sink.whole(rows.length);
  const columnOf = (place: number): Leaf[] => rows.map(({ leaves }) => leaves[place]);
  const timePlace = leafIndex(shape, TIME);
  let times: number[] | null = null;
  // The times stand first: other columns are read by means of them.
  if (timePlace !== null) {
    writeColumn(sink, columnOf(timePlace), null);
    times = numbersOf(columnOf(timePlace));
  }
  const count = leafCount(JSON.parse(shape));
  for (let place = 0; place < count; place += 1) {
    if (place !== timePlace) writeColumn(sink, columnOf(place), times);
  }
  return pack(sink.result());
}

/** @throws DamagedBytes */
export function unpackRows(packed: Uint8Array, shape: string): unknown[] {
  const source = createByteSource(unpack(packed));
  const rowCount = source.whole();
  if (rowCount > ROWS_MAX) throw new DamagedBytes(`${rowCount} ticks in one block`);
  const timePlace = leafIndex(shape, TIME);
  const timeColumn = timePlace === null ? null : readColumn(source, rowCount, null);
  const times = timeColumn === null ? null : numbersOf(timeColumn);
  const columns: Leaf[][] = [];
  const count = leafCount(JSON.parse(shape));
  for (let place = 0; place < count; place += 1) {
    const isTime = place === timePlace && timeColumn !== null;
    columns.push(isTime ? timeColumn : readColumn(source, rowCount, times));
  }
  if (!source.isAtEnd()) throw new DamagedBytes("bytes are left over");
  const build = builderOf(shape);
  return Array.from({ length: rowCount }, (_, row) => build(columns.map((column) => column[row])));
}

export function pack(raw: Uint8Array): Uint8Array {
  return brotliCompressSync(raw, {
    params: {
      [constants.BROTLI_PARAM_QUALITY]: QUALITY,
      [constants.BROTLI_PARAM_SIZE_HINT]: raw.length,
    },
  });
}

/** @throws DamagedBytes */
export function unpack(packed: Uint8Array): Uint8Array {
  try {
    return brotliDecompressSync(packed, { maxOutputLength: UNPACKED_MAX });
  } catch (error) {
    throw new DamagedBytes("cannot be unpacked", { cause: error });
  }
}
