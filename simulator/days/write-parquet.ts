/**
 * Day files as Parquet: the columns of the CSV form, `time` as UTC instants, and beside it what the
 * local clock was ahead of UTC, so that the CSV comes back as it was. The comments and the units
 * stand in the file's key-value metadata.
 *
 * | column                | type                                          |
 * | --------------------- | --------------------------------------------- |
 * | `time`                | INT64, TIMESTAMP in ms, adjusted to UTC       |
 * | `utc_offset_s`        | INT32, local time less UTC                    |
 * | `curtailed`           | BOOLEAN                                       |
 * | `charge_stage`        | STRING                                        |
 * | every other           | DOUBLE; `unit.<column>` in the metadata       |
 *
 * Every column but the first two may hold nulls. Compression is Snappy.
 */
import { ParquetWriter, fileWriter } from "hyparquet-writer";
import { columnRule } from "./column-rules.ts";
import { CHARGE_STAGES } from "./day-file.ts";
import type { DaySeries } from "./day-file.ts";
import { roundFigure } from "../rounding.ts";
import { commentValues } from "./write-csv.ts";

/** Rows that stand in memory until they are written together. */
const GROUP_ROWS = 20_000;

/** @see CheckedRow for the order of calls: rows rise in time over all pieces. */
export interface DayParquetWriter {
  write(piece: DaySeries): void;
  end(): void;
}

type SchemaElement = ConstructorParameters<typeof ParquetWriter>[0]["schema"][number];

/** @param first - The first piece: its columns and comments are those of the file. */
export function createParquetWriter(path: string, first: DaySeries): DayParquetWriter {
  const names = [...first.columns.keys()];
  const writer = new ParquetWriter({
    writer: fileWriter(path),
    schema: [
      { name: "root", num_children: names.length + 2 },
      TIME,
      OFFSET,
      ...names.map(schemaElement),
    ],
    kvMetadata: [...metadata(first, names)].map(([key, value]) => ({ key, value })),
    createdBy: "bywash",
  });
  let group: DaySeries[] = [];
  let rows = 0;
  return {
    write(piece) {
      group.push(piece);
      rows += piece.timesMs.length;
      if (rows >= GROUP_ROWS) flush();
    },
    end() {
      flush();
      void writer.finish();
    },
  };

  function flush(): void {
    if (rows === 0) return;
    const data = [
      { name: "time", data: group.flatMap(times) },
      { name: "utc_offset_s", data: group.flatMap(offsets) },
      ...names.map((name) => ({ name, data: group.flatMap((piece) => fields(piece, name)) })),
    ];
    void writer.write({ columnData: data, rowGroupSize: rows });
    group = [];
    rows = 0;
  }
}

const TIME: SchemaElement = {
  name: "time",
  type: "INT64",
  repetition_type: "REQUIRED",
  converted_type: "TIMESTAMP_MILLIS",
  logical_type: { type: "TIMESTAMP", isAdjustedToUTC: true, unit: "MILLIS" },
};

const OFFSET: SchemaElement = { name: "utc_offset_s", type: "INT32", repetition_type: "REQUIRED" };

function schemaElement(name: string): SchemaElement {
  if (name === "charge_stage") {
    return { name, type: "BYTE_ARRAY", repetition_type: "OPTIONAL", converted_type: "UTF8" };
  }
  const type = name === "curtailed" ? "BOOLEAN" : "DOUBLE";
  return { name, type, repetition_type: "OPTIONAL" };
}

function* metadata(
  series: DaySeries,
  names: readonly string[],
): Generator<readonly [key: string, value: string]> {
  yield* commentValues(series);
  for (const name of names) {
    const { unit } = columnRule(name);
    if (unit !== "") yield [`unit.${name}`, unit];
  }
}

function times(piece: DaySeries): Date[] {
  return Array.from(piece.timesMs, (atMs) => new Date(atMs));
}

function offsets(piece: DaySeries): number[] {
  const placeMs = piece.place?.utcOffsetMs ?? 0;
  return Array.from(piece.timesMs, (_, row) => (piece.utcOffsetsMs?.[row] ?? placeMs) / 1000);
}

function fields(piece: DaySeries, name: string): (number | string | boolean | null)[] {
  return Array.from(piece.columns.get(name) ?? [], (value) => field(name, value));
}

function field(name: string, value: number): number | string | boolean | null {
  if (Number.isNaN(value)) return null;
  if (name === "charge_stage") return CHARGE_STAGES[value] ?? null;
  if (name === "curtailed") return value === 1;
  return roundFigure(value);
}
