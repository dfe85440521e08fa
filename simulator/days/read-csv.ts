/**
 * Reads a day file: UTF-8 CSV with a header that carries units in its names, comment lines that
 * begin with `#`, and one row for each interval. Everything wrong is said with its line number.
 */
import { UserError } from "../../service/errors.ts";
import type { UserProblem } from "../../service/errors.ts";
import { findComments, readComments } from "./day-comments.ts";
import type { Comment } from "./day-comments.ts";
import type { DaySeries } from "./day-file.ts";
import { checkHeader } from "./day-header.ts";
import { createPlausibility } from "./plausibility.ts";
import { checkOrder, readField, readStamp } from "./row-values.ts";
import { separatedRows } from "./separated-rows.ts";
import type { Row } from "./separated-rows.ts";
import { createSeriesBuilder } from "./series-builder.ts";
import type { CheckedRow, SeriesBuilder, SeriesHead } from "./series-builder.ts";
import { textBlocks } from "./text-blocks.ts";
import type { TextBlock } from "./text-blocks.ts";

/** A file may be wrong in every line; so many are enough to see how. */
const PROBLEMS_MAX = 10;

const FORM = { separator: ",", comment: "#" } as const;

export interface DayCsv {
  /** Where messages point: its path. */
  readonly name: string;
  readonly bytes: Iterable<Uint8Array>;
  readonly cut: SeriesHead["cut"];
}

/**
 * @param text - The whole file.
 * @param name - Where messages point: its path.
 * @throws UserError with the first problems, each at its line.
 */
export function readDayCsv(text: string, name: string): DaySeries {
  const bytes = [new TextEncoder().encode(text)];
  const [series] = readDayCsvPieces({ name, bytes, cut: "whole" });
  if (series === undefined) throw emptyFile(name);
  return series;
}

/**
 * The file piece by piece; only one piece and one block of text are in memory.
 *
 * @throws UserError with the first problems, each at its line.
 */
export function* readDayCsvPieces(file: DayCsv): Generator<DaySeries> {
  const comments = new Map<string, Comment>();
  let reader: RowReader | null = null;
  for (const block of textBlocks({ ...file, encoding: "utf-8" })) {
    const rows = separatedRows(block, FORM, file.name);
    const [first] = rows;
    if (reader === null) addComments(comments, block, file.name);
    if (first === undefined) continue;
    const isHeader = reader === null;
    reader ??= createRowReader(file, first, comments);
    yield* reader.read(isHeader ? rows.slice(1) : rows, block.isCut);
  }
  if (reader === null) throw emptyFile(file.name);
  yield* reader.end();
}

/** Comments stand before the rows, above or below the header. */
function addComments(into: Map<string, Comment>, block: TextBlock, name: string): void {
  const rows = block.lines.map((line, i) => ({ line, i })).filter(({ line }) => isRow(line));
  const head = block.lines.slice(0, rows[1]?.i ?? block.lines.length);
  for (const [key, comment] of findComments(head, name, block.firstLine)) into.set(key, comment);
}

function isRow(line: string): boolean {
  return line.trim() !== "" && !line.startsWith("#");
}

interface RowReader {
  read(rows: readonly Row[], isCut: boolean): Generator<DaySeries>;
  end(): Generator<DaySeries>;
}

function createRowReader(
  file: DayCsv,
  header: Row,
  comments: ReadonlyMap<string, Comment>,
): RowReader {
  const where = `${file.name}:${header.line}`;
  const columns = checkHeader(header.fields, where);
  const head: SeriesHead = { ...file, columns, comments: readComments(comments) };
  const builder = createSeriesBuilder(head);
  const plausibility = createPlausibility(where);
  const check = createRowCheck(file.name, columns);
  let count = 0;
  return {
    *read(rows, isCut) {
      const problems: UserProblem[] = [];
      for (const [i, row] of rows.entries()) {
        const isCutRow = isCut && i === rows.length - 1;
        const checked = check(row, isCutRow, problems);
        count += 1;
        if (problems.length >= PROBLEMS_MAX) break;
        if (checked !== null && problems.length === 0) yield* judged(builder, checked);
      }
      if (problems.length > 0) throw new UserError(problems.slice(0, PROBLEMS_MAX));
    },
    *end() {
      if (count === 0) throw emptyFile(file.name);
      const last = builder.end();
      if (last !== null) plausibility.look(last);
      plausibility.judge();
      if (last !== null) yield last;
    },
  };

  function* judged(from: SeriesBuilder, row: CheckedRow): Generator<DaySeries> {
    const piece = from.add(row);
    if (piece === null) return;
    plausibility.look(piece);
    plausibility.judge();
    yield piece;
  }
}

type RowCheck = (row: Row, isCut: boolean, problems: UserProblem[]) => CheckedRow | null;

function createRowCheck(name: string, columns: readonly string[]): RowCheck {
  const values = new Float64Array(columns.length);
  let beforeMs: number | null = null;
  return (row, isCut, problems) => {
    const where = `${name}:${row.line}`;
    const count = row.fields.length - 1;
    if (count !== columns.length) {
      problems.push(wrongCount(row, { where, isCut, columns }));
      return null;
    }
    const [text = ""] = row.fields;
    const stamp = readStamp(text, where);
    if ("code" in stamp) problems.push(stamp);
    else {
      const problem = checkOrder(stamp, beforeMs, { where, text });
      if (problem !== null) problems.push(problem);
      beforeMs = stamp.atMs;
    }
    for (const [c, column] of columns.entries()) {
      const value = readField(row.fields[c + 1] ?? "", { column, where });
      if (typeof value === "number") values[c] = value;
      else problems.push(value);
    }
    return "code" in stamp ? null : { ...stamp, values };
  };
}

function wrongCount(
  row: Row,
  about: { readonly where: string; readonly isCut: boolean; readonly columns: readonly string[] },
): UserProblem {
  const wanted = about.columns.length + 1;
  const count = row.fields.length;
  const found = `${count} ${count === 1 ? "field" : "fields"}`;
  const problem = { code: "day-fields", where: about.where, found, expected: `${wanted} fields` };
  const missing = about.columns[count - 1];
  if (missing !== undefined) {
    const suggestion = about.isCut ? "the last line is cut off: take it out" : undefined;
    return { ...problem, key: missing, ...(suggestion === undefined ? {} : { suggestion }) };
  }
  return { ...problem, suggestion: "a comma as a decimal mark? Decimals take a point" };
}

function emptyFile(name: string): UserError {
  return new UserError([
    { code: "day-empty", where: name, found: "no rows", expected: "a header and rows" },
  ]);
}
