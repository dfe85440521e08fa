/**
 * Reads a day file: UTF-8 CSV with a header that carries units in its names, comment lines that
 * begin with `#`, and one row for each interval. Everything wrong is said with its line number.
 */
import { parse } from "csv-parse/sync";
import { nearestWord } from "../../config/suggestions.ts";
import { UserError } from "../../service/errors.ts";
import type { UserProblem } from "../../service/errors.ts";
import { CHARGE_STAGES, FIXED_COLUMNS, GAP_MAX_MS, isLoadColumn } from "./day-file.ts";
import type { DaySeries, Gap } from "./day-file.ts";
import { parseComments } from "./day-comments.ts";
import { parseTime } from "./rfc3339.ts";

/** A file may be wrong in every line; so many are enough to see how. */
const PROBLEMS_MAX = 10;

interface Line {
  readonly number: number;
  readonly fields: readonly string[];
}

/**
 * @param text - The whole file.
 * @param name - Where messages point: its path.
 * @throws UserError with the first problems, each at its line.
 */
export function readDayCsv(text: string, name: string): DaySeries {
  const problems: UserProblem[] = [];
  const comments = parseComments(text, name);
  const [header, ...rows] = splitLines(text, name);
  if (header === undefined) throw emptyFile(name);
  const columnNames = checkHeader(header, name);
  if (rows.length === 0) throw emptyFile(name);
  const timesMs = new Float64Array(rows.length);
  const columns = columnNames.map(() => new Float64Array(rows.length));
  let offsetMs: number | null = null;
  for (const [i, row] of rows.entries()) {
    const stamp = readTime(row, timesMs[i - 1] ?? null, name);
    if ("code" in stamp) problems.push(stamp);
    else {
      timesMs[i] = stamp.atMs;
      offsetMs ??= stamp.offsetMs;
    }
    for (const [c, column] of columns.entries()) {
      const value = readValue({ name: columnNames[c] ?? "", index: c + 1 }, row, name);
      if (typeof value === "number") column[i] = value;
      else problems.push(value);
    }
    if (problems.length >= PROBLEMS_MAX) break;
  }
  if (problems.length > 0) throw new UserError(problems.slice(0, PROBLEMS_MAX));
  const stepMs = comments.stepMs ?? usualStepMs(timesMs);
  return {
    name,
    site: comments.site,
    source: comments.source,
    place: comments.place === null ? null : { ...comments.place, utcOffsetMs: offsetMs ?? 0 },
    stepMs,
    timesMs,
    columns: new Map(columnNames.map((column, c) => [column, columns[c] ?? new Float64Array(0)])),
    gaps: findGaps(timesMs, stepMs),
  };
}

function splitLines(text: string, name: string): readonly Line[] {
  try {
    const lines: Line[] = [];
    parse(text, {
      bom: true,
      comment: "#",
      comment_no_infix: true,
      relax_column_count: true,
      skip_empty_lines: true,
      trim: true,
      on_record: (fields, { lines: number }) => {
        lines.push({ number, fields });
        return null;
      },
    });
    return lines;
  } catch (error) {
    const found = error instanceof Error ? error.message : String(error);
    throw new UserError([{ code: "day-csv", where: name, found, expected: "a CSV file" }]);
  }
}

function checkHeader(header: Line, name: string): readonly string[] {
  const [time, ...columns] = header.fields;
  const where = `${name}:${header.number}`;
  const problems: UserProblem[] = [];
  if (time !== "time") {
    const expected = "a header whose first column is time";
    problems.push({ code: "day-header", where, found: time ?? "", expected });
  }
  for (const [c, column] of columns.entries()) {
    const isKnown = FIXED_COLUMNS.some((known) => known === column) || isLoadColumn(column);
    if (!isKnown) problems.push(unknownColumn(column, where));
    if (columns.indexOf(column) !== c) {
      const expected = "each column once";
      problems.push({ code: "day-column-twice", where, found: column, expected });
    }
  }
  if (problems.length > 0) throw new UserError(problems);
  return columns;
}

function unknownColumn(column: string, where: string): UserProblem {
  const nearest = nearestWord(column, FIXED_COLUMNS);
  return {
    code: "day-column",
    where,
    found: column,
    expected: "a column of the day file, load_<id>_w or tank_<id>_c",
    ...(nearest === undefined ? {} : { suggestion: nearest }),
  };
}

function readTime(
  row: Line,
  beforeMs: number | null,
  name: string,
): { readonly atMs: number; readonly offsetMs: number } | UserProblem {
  const where = `${name}:${row.number}`;
  const text = row.fields[0] ?? "";
  const stamp = parseTime(text);
  if (stamp === null) {
    const expected = "an RFC 3339 time with Z or an offset like +02:00";
    return { code: "day-time", where, found: text, expected };
  }
  if (beforeMs !== null && stamp.atMs <= beforeMs) {
    const expected = "a time after that of the row before";
    return { code: "day-time-order", where, found: text, expected };
  }
  return stamp;
}

function readValue(
  { name: column, index }: { readonly name: string; readonly index: number },
  row: Line,
  name: string,
): number | UserProblem {
  const text = row.fields[index];
  const where = `${name}:${row.number}`;
  if (text === undefined) {
    const found = `${row.fields.length} fields`;
    return { code: "day-fields", where, key: column, found, expected: "as many as the header" };
  }
  if (text === "") return NaN;
  if (column === "charge_stage") {
    const stage = CHARGE_STAGES.findIndex((known) => known === text);
    if (stage >= 0) return stage;
    return {
      code: "day-value",
      where,
      key: column,
      found: text,
      expected: CHARGE_STAGES.join(", "),
    };
  }
  const value = Number(text);
  if (Number.isFinite(value)) return value;
  const expected = "a number with a decimal point; nothing at all where it is missing";
  return { code: "day-value", where, key: column, found: text, expected };
}

/** The commonest distance of two rows: the median, which a few holes do not move. */
function usualStepMs(timesMs: Float64Array): number {
  if (timesMs.length < 2) return 60_000;
  const distances = timesMs.subarray(1).map((atMs, i) => atMs - (timesMs[i] ?? 0));
  distances.sort();
  return distances[Math.floor(distances.length / 2)] ?? 60_000;
}

function findGaps(timesMs: Float64Array, stepMs: number): readonly Gap[] {
  const longestMs = Math.max(GAP_MAX_MS, 1.5 * stepMs);
  const gaps: Gap[] = [];
  for (let i = 1; i < timesMs.length; i += 1) {
    const fromMs = timesMs[i - 1] ?? 0;
    const toMs = timesMs[i] ?? 0;
    if (toMs - fromMs > longestMs) gaps.push({ fromMs, toMs });
  }
  return gaps;
}

function emptyFile(name: string): UserError {
  return new UserError([
    { code: "day-empty", where: name, found: "no rows", expected: "a header and rows" },
  ]);
}
