import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { tableFromIPC } from "apache-arrow";
import fc from "fast-check";
import { parquetWriteFile } from "hyparquet-writer";
import {
  Compression,
  Table,
  WriterPropertiesBuilder,
  readParquet,
  writeParquet,
} from "parquet-wasm";
import { afterAll, describe, expect, test } from "vitest";
import { CHARGE_STAGES, FIXED_COLUMNS } from "../../simulator/days/day-file.ts";
import { columnRule } from "../../simulator/days/column-rules.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { openDayPieces } from "../../simulator/days/open-day-file.ts";
import { readDayCsv } from "../../simulator/days/read-csv.ts";
import { dayCsvHead, dayCsvRows, writeDayCsv } from "../../simulator/days/write-csv.ts";
import { createParquetWriter } from "../../simulator/days/write-parquet.ts";

const folder = mkdtempSync(join(tmpdir(), "bywash-parquet-"));
afterAll(() => rmSync(folder, { recursive: true }));
const SAMPLE = new URL("../../simulator/samples/measured-broken-cloud.csv", import.meta.url);

function write(path: string, ...pieces: readonly DaySeries[]): void {
  const writer = createParquetWriter(path, pieces[0]!);
  for (const piece of pieces) writer.write(piece);
  writer.end();
}

async function csvOf(path: string): Promise<string> {
  let text = "";
  for await (const piece of openDayPieces(path)) {
    text += (text === "" ? dayCsvHead(piece) : "") + dayCsvRows(piece);
  }
  return text;
}

async function throughParquet(csv: string): Promise<string> {
  const path = join(folder, "day.parquet");
  write(path, readDayCsv(csv, "day.csv"));
  return csvOf(path);
}

/** A value of the column as a day file of ours writes it, or none. */
function field(column: string): fc.Arbitrary<string> {
  const { min, max } = columnRule(column);
  const value =
    column === "charge_stage"
      ? fc.constantFrom(...CHARGE_STAGES)
      : column === "curtailed"
        ? fc.constantFrom("0", "1")
        : fc
            .double({ min, max, noNaN: true })
            .map((number) => String(Number(number.toPrecision(6)) || 0));
  return fc.option(value, { nil: "", freq: 4 });
}

const day = fc
  .record({
    columns: fc.subarray([...FIXED_COLUMNS, "load_spring-pump_w", "tank_water-heater_c"], {
      minLength: 1,
    }),
    stepsS: fc.array(fc.integer({ min: 1, max: 90_000 }), { minLength: 1, maxLength: 10 }),
    offsets: fc.array(fc.constantFrom("Z", "+02:00", "+01:00", "-09:30", "+12:45"), {
      minLength: 10,
      maxLength: 10,
    }),
    hasPlace: fc.boolean(),
  })
  .chain(({ columns, stepsS, offsets, hasPlace }) => {
    const row = fc.tuple(...columns.map(field)).map((fields) => fields.join(","));
    return fc.array(row, { minLength: stepsS.length, maxLength: stepsS.length }).map((rows) => {
      let atMs = Date.parse("2025-10-26T00:59:30Z");
      const lines = rows.map((fields, i) => {
        atMs += (stepsS[i] ?? 0) * 1000;
        return `${stamp(atMs, offsets[i] ?? "Z")},${fields}`;
      });
      const place = hasPlace ? ["# latitude: -42.1", "# longitude: 146.6"] : [];
      const head = ["# site: malga", "# step: 60 s", ...place, "# source: drawn by lot"];
      return [...head, ["time", ...columns].join(","), ...lines, ""].join("\n");
    });
  });

function stamp(atMs: number, offset: string): string {
  const [, sign, hour, minute] = /([+-])(\d\d):(\d\d)/.exec(offset) ?? ["", "+", "0", "0"];
  const offsetMs = Number(`${sign}1`) * (Number(hour) * 60 + Number(minute)) * 60_000;
  return new Date(atMs + offsetMs).toISOString().replace(".000Z", offset);
}

describe("CSV through Parquet and back is the same, byte for byte", () => {
  test("for any day", async () => {
    await fc.assert(
      fc.asyncProperty(day, async (csv) => {
        expect(await throughParquet(csv)).toBe(csv);
      }),
      { numRuns: 150 },
    );
  });

  test("for the measured sample", async () => {
    const csv = writeDayCsv(readDayCsv(readFileSync(SAMPLE, "utf8"), "sample"));
    expect(csv.split("\n").length).toBeGreaterThan(1440);
    expect(await throughParquet(csv)).toBe(csv);
  });

  test("for more rows than are written together, given in pieces", async () => {
    const rows = 44_000;
    const startMs = Date.parse("2025-01-01T00:00:00Z");
    const line = (i: number): string =>
      `${new Date(startMs + i * 60_000).toISOString().replace(".000Z", "Z")},${i % 900}\n`;
    const head = "# step: 60 s\ntime,ghi_w_m2\n";
    const chunk = (from: number): string =>
      head + Array.from({ length: rows / 4 }, (_, i) => line(from + i)).join("");
    const path = join(folder, "long.parquet");
    write(path, ...[0, 1, 2, 3].map((n) => readDayCsv(chunk((n * rows) / 4), "part")));
    const expected = head + Array.from({ length: rows }, (_, i) => line(i)).join("");
    // Compared by length first: a difference of 44 000 lines is no message.
    const back = await csvOf(path);
    expect(back.length).toBe(expected.length);
    expect(back === expected).toBe(true);
  });
});

describe("another implementation of Parquet (parquet-wasm, on Arrow's Rust library)", () => {
  const csv = [
    "# site: malga",
    "# step: 60 s",
    "# source: by hand",
    "time,curtailed,charge_stage,base_load_w",
    "2025-06-12T00:00:00+02:00,0,bulk,300.5",
    "2025-06-12T00:01:00+02:00,1,,",
    "",
  ].join("\n");

  test("reads what we write: types, values, nulls and metadata", () => {
    const path = join(folder, "ours.parquet");
    write(path, readDayCsv(csv, "day.csv"));
    const table = tableFromIPC(readParquet(readFileSync(path)).intoIPCStream());
    expect(table.schema.fields.map((one) => [one.name, String(one.type), one.nullable])).toEqual([
      ["time", "Timestamp<MILLISECOND, UTC>", false],
      ["utc_offset_s", "Int32", false],
      ["curtailed", "Bool", true],
      ["charge_stage", "Utf8", true],
      ["base_load_w", "Float64", true],
    ]);
    expect(Number(table.getChild("time")?.get(0))).toBe(Date.parse("2025-06-11T22:00:00Z"));
    expect(
      table
        .toArray()
        .map((row) => [row.utc_offset_s, row.curtailed, row.charge_stage, row.base_load_w]),
    ).toEqual([
      [7200, false, "bulk", 300.5],
      [7200, true, null, null],
    ]);
    expect(Object.fromEntries(table.schema.metadata)).toMatchObject({
      site: "malga",
      step: "60 s",
      source: "by hand",
      "unit.base_load_w": "W",
    });
  });

  test.each([
    ["Snappy", Compression.SNAPPY],
    ["gzip", Compression.GZIP],
    ["Brotli", Compression.BROTLI],
    ["nothing", Compression.UNCOMPRESSED],
  ])("writes with %s what we read", async (_, compression) => {
    const ours = join(folder, "ours.parquet");
    write(ours, readDayCsv(csv, "day.csv"));
    const table = Table.fromIPCStream(readParquet(readFileSync(ours)).intoIPCStream());
    const theirs = join(folder, "theirs.parquet");
    const properties = new WriterPropertiesBuilder().setCompression(compression).build();
    writeFileSync(theirs, writeParquet(table, properties));
    const text = await csvOf(theirs);
    expect(text.slice(text.indexOf("time,"))).toBe(csv.slice(csv.indexOf("time,")));
  });
});

describe("a mistake is said with its row", () => {
  const at = (text: string): Date => new Date(text);
  const T = [at("2025-06-12T00:00:00Z"), at("2025-06-12T00:01:00Z")];
  test.each([
    ["time that goes back", { time: [T[1], T[0]], ghi_w_m2: [1, 2] }, /row 2.*day-time-order/s],
    ["a code for missing", { time: T, ghi_w_m2: [1, -9999] }, /row 2.*day-range.*empty/s],
    ["infinity", { time: T, ghi_w_m2: [Infinity, 1] }, /row 1.*day-range/s],
    [
      "local time as text",
      { time: ["2025-06-12 00:00:00", "x"], ghi_w_m2: [1, 2] },
      /row 1.*day-time/s,
    ],
    ["a number for time", { time: [5, 6], ghi_w_m2: [1, 2] }, /row 1.*day-time/s],
    ["a column that is not ours", { time: T, ghi: [1, 2] }, /day-column/],
    ["no time", { ghi_w_m2: [1, 2] }, /day-header/],
    ["words for numbers", { time: T, ghi_w_m2: ["low", "high"] }, /row 1.*day-value/s],
    ["an unknown stage", { time: T, charge_stage: ["bulk", "boost"] }, /row 2.*absorption/s],
    ["odd offsets", { time: T, utc_offset_s: [0, 17], ghi_w_m2: [1, 2] }, /row 2.*utc_offset_s/s],
  ])("%s", async (_, columns, says) => {
    const path = join(folder, "wrong.parquet");
    const columnData = Object.entries(columns).map(([name, data]) => ({ name, data }));
    parquetWriteFile({ filename: path, columnData });
    await expect(csvOf(path)).rejects.toThrow(says);
  });

  test("a file that ends too early, and one that was damaged", async () => {
    const path = join(folder, "whole.parquet");
    write(path, readDayCsv(readFileSync(SAMPLE, "utf8"), "sample"));
    const bytes = readFileSync(path);
    const damaged = join(folder, "damaged.parquet");
    writeFileSync(damaged, bytes.subarray(0, bytes.length - 100));
    await expect(csvOf(damaged)).rejects.toThrow(/day-parquet/);
    writeFileSync(damaged, bytes.fill(0x55, 8, 4000));
    await expect(csvOf(damaged)).rejects.toThrow(/\[day-/);
  });
});
