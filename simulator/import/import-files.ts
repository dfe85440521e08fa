/** Foreign files as the series of a day file, piece by piece. */
import { basename } from "node:path";
import { UserError } from "../../service/errors.ts";
import type { UserProblem } from "../../service/errors.ts";
import type { DayComments } from "../days/day-comments.ts";
import type { DaySeries } from "../days/day-file.ts";
import { createPlausibility } from "../days/plausibility.ts";
import { checkOrder } from "../days/row-values.ts";
import type { Row } from "../days/separated-rows.ts";
import { createSeriesBuilder } from "../days/series-builder.ts";
import type { CheckedRow, SeriesBuilder } from "../days/series-builder.ts";
import { createColumnReaders } from "./column-reader.ts";
import type { ColumnReader } from "./column-reader.ts";
import { namesIn, openForeignFile, readCell } from "./foreign-file.ts";
import type { ForeignFile } from "./foreign-file.ts";
import { createStampReader, shiftOf, stepOf } from "./foreign-time.ts";
import type { StampReader } from "./foreign-time.ts";
import type { Mapping, Place } from "./mapping.ts";

const PROBLEMS_MAX = 10;
const HOUR_MS = 3_600_000;

/** What was made of the files; filled while they are read. */
export interface ImportNotes {
  /** Columns of the files that the mapping does not use. */
  readonly unused: Set<string>;
  /** By column: values out of its range that were left empty. */
  readonly emptied: Map<string, number>;
}

export interface ImportJob {
  /** In order of time. */
  readonly paths: readonly string[];
  readonly mapping: Mapping;
  readonly notes: ImportNotes;
}

/** @throws UserError with the first problems of the first file that has some. */
export function* importFiles(job: ImportJob): Generator<DaySeries> {
  const plausibility = createPlausibility(job.paths[0] ?? "");
  let reader: FileReader | null = null;
  let builder: SeriesBuilder | null = null;
  let beforeMs: number | null = null;
  for (const path of job.paths) {
    const next = openReader(path, job);
    if (reader !== null) refuseOthers(reader, next);
    reader = next;
    builder ??= createSeriesBuilder({
      name: path,
      columns: next.columns.map(({ column }) => column),
      comments: { ...next.comments, source: sourceOf(job) },
      cut: "days",
    });
    for (const row of checkedRows(next, beforeMs)) {
      beforeMs = row.atMs;
      const piece = builder.add(row);
      if (piece !== null) yield judged(piece);
    }
    noteColumns(next, job.notes);
  }
  const last = builder?.end() ?? null;
  if (last === null) throw noRows(job.paths[0] ?? "");
  yield judged(last);

  function judged(piece: DaySeries): DaySeries {
    plausibility.look(piece);
    plausibility.judge();
    return piece;
  }
}

interface FileReader {
  readonly file: ForeignFile;
  readonly comments: DayComments;
  readonly columns: readonly ColumnReader[];
  readonly stamps: StampReader;
  /** Stamp to begin of the interval. [ms] */
  readonly shiftMs: number;
  /** Of the stamps that are written; null: the zone's own. [ms] */
  readonly offsetMs: number | null;
  readonly unused: readonly string[];
}

function openReader(path: string, { mapping }: ImportJob): FileReader {
  const file = openForeignFile(path, mapping.file);
  const stamps = createStampReader(file, mapping);
  const stepMs = stepOf(file, mapping, stamps);
  const comments = commentsOf(file, mapping, stepMs);
  const stepS = stepMs === null ? null : stepMs / 1000;
  const { place } = comments;
  const isByLongitude = mapping.time.clock === "longitude" && place !== null;
  return {
    file,
    comments,
    columns: createColumnReaders({ file, mapping, stepS }),
    stamps,
    shiftMs: shiftOf(file, mapping, stepMs),
    // The zones at sea: whole hours, each 15 degrees wide.
    // A little west of Greenwich rounds to minus nothing, which no clock is ahead by.
    offsetMs: isByLongitude ? Math.round(place.longitudeDeg / 15) * HOUR_MS + 0 : null,
    unused: unusedNames(file, mapping),
  };
}

function commentsOf(file: ForeignFile, mapping: Mapping, stepMs: number | null): DayComments {
  const { place, site } = mapping;
  const degrees = (value: number | Parameters<typeof readCell>[0], key: string): number =>
    typeof value === "number" ? value : readCell(value, file, key);
  return {
    site: site ?? null,
    source: null,
    stepMs,
    place:
      place === undefined
        ? null
        : {
            latitudeDeg: degrees(place.latitude, "place.latitude"),
            longitudeDeg: degrees(place.longitude, "place.longitude"),
          },
  };
}

function sourceOf({ paths, mapping }: ImportJob): string {
  const [first = "", last = first] = [paths[0], paths.at(-1)].map((path) => basename(path ?? ""));
  const files = paths.length === 1 ? first : `${first} to ${last} (${paths.length} files)`;
  return mapping.about === undefined ? files : `${mapping.about}; ${files}`;
}

function* checkedRows(reader: FileReader, lastMs: number | null): Generator<CheckedRow> {
  const values = new Float64Array(reader.columns.length);
  let beforeMs = lastMs;
  for (const rows of reader.file.rows()) {
    const problems: UserProblem[] = [];
    for (const row of rows) {
      const where = `${reader.file.path}:${row.line}`;
      const begin = beginOf(reader, row, { beforeMs, problems });
      for (const [c, column] of reader.columns.entries()) {
        const value = column.read(row, where);
        if (typeof value === "number") values[c] = value;
        else problems.push(value);
      }
      beforeMs = begin?.atMs ?? beforeMs;
      if (problems.length >= PROBLEMS_MAX) break;
      if (begin !== null && problems.length === 0) yield { ...begin, values };
    }
    if (problems.length > 0) throw new UserError(problems.slice(0, PROBLEMS_MAX));
  }
}

function beginOf(
  reader: FileReader,
  row: Row,
  { beforeMs, problems }: { readonly beforeMs: number | null; readonly problems: UserProblem[] },
): { readonly atMs: number; readonly offsetMs: number } | null {
  const where = `${reader.file.path}:${row.line}`;
  const wrongCount = fieldCountProblem(reader.file, row, where);
  // Every row of the file would say the same.
  if (wrongCount !== null) throw new UserError([wrongCount]);
  const stampBeforeMs = beforeMs === null ? -Infinity : beforeMs - reader.shiftMs;
  const stamp = reader.stamps(row, where, stampBeforeMs);
  if ("code" in stamp) {
    problems.push(stamp);
    return null;
  }
  const begin = {
    atMs: stamp.atMs + reader.shiftMs,
    offsetMs: reader.offsetMs ?? stamp.offsetMs,
  };
  const text = new Date(begin.atMs).toISOString();
  const problem = checkOrder(begin, beforeMs, { where, text });
  if (problem !== null) problems.push(withYearAdvice(problem));
  return begin;
}

function withYearAdvice(problem: UserProblem): UserProblem {
  const suggestion =
    "files in order of time; months of several years? Then --set time.year=2001 makes one of them";
  return { ...problem, suggestion };
}

/** More fields than names: by name, every column might be its neighbour. */
function fieldCountProblem(file: ForeignFile, row: Row, where: string): UserProblem | null {
  const { names } = file;
  if (names.length === 0 || row.fields.length <= names.length) return null;
  // A separator at the end of the line names nothing.
  if (row.fields.slice(names.length).every((field) => field === "")) return null;
  return {
    code: "import-fields",
    where,
    found: `${row.fields.length} fields`,
    expected: `${names.length} at most, as the header has names`,
    suggestion: "look which columns are meant, and give their numbers with file.header: none",
  };
}

function unusedNames(file: ForeignFile, mapping: Mapping): readonly string[] {
  const places: readonly Place[] = [
    ...mapping.time.from,
    ...Object.values(mapping.columns).flatMap(({ from, valid }) =>
      valid === undefined ? [from] : [from, valid.from],
    ),
  ];
  const used = new Set(places.flatMap((place) => usedName(place, file)));
  return file.names.filter((name) => name !== "" && !used.has(name));
}

function usedName(place: Place, file: ForeignFile): readonly string[] {
  if (typeof place === "number") return [file.names[place - 1] ?? ""];
  const name = namesIn(place).find((one) => file.names.includes(one));
  return name === undefined ? [] : [name];
}

function noteColumns(reader: FileReader, notes: ImportNotes): void {
  for (const name of reader.unused) notes.unused.add(name);
  for (const { column, emptied } of reader.columns) {
    if (emptied() === 0) continue;
    notes.emptied.set(column, (notes.emptied.get(column) ?? 0) + emptied());
  }
}

/** Files that are joined have to be of one place and to have the same columns. */
function refuseOthers(one: FileReader, other: FileReader): void {
  const description = ({ columns, comments }: FileReader): string =>
    [columns.map(({ column }) => column).join(", "), JSON.stringify(comments.place)].join(" at ");
  if (description(one) === description(other)) return;
  throw new UserError([
    {
      code: "import-mixed",
      where: other.file.path,
      found: description(other),
      expected: `what ${one.file.path} has: ${description(one)}`,
    },
  ]);
}

function noRows(path: string): UserError {
  return new UserError([
    { code: "import-empty", where: path, found: "no rows", expected: "a file with rows" },
  ]);
}
