/** A foreign file as its head, its column names and its rows; nothing in it has a meaning yet. */
import { nearestWord } from "../../config/suggestions.ts";
import { UserError } from "../../service/errors.ts";
import { separatedRows } from "../days/separated-rows.ts";
import type { Row } from "../days/separated-rows.ts";
import { fileBytes, textBlocks } from "../days/text-blocks.ts";
import type { TextBlock } from "../days/text-blocks.ts";
import type { Cell, Mapping, Place } from "./mapping.ts";

export interface ForeignFile {
  readonly path: string;
  readonly form: Mapping["file"];
  /** The lines above the first row. */
  readonly head: readonly string[];
  /** Empty where the file names none. */
  readonly names: readonly string[];
  rows(): Generator<readonly Row[]>;
}

/** @throws UserError if the file cannot be read or has no rows. */
export function openForeignFile(path: string, form: Mapping["file"]): ForeignFile {
  const headerLine = form.header === "none" ? 0 : form.header;
  const firstRow = form.firstRow ?? headerLine + 1;
  const [block] = blocksOf(path, form);
  if (block === undefined) throw problem(path, "nothing", "a file with rows");
  const head = block.lines.slice(0, firstRow - 1);
  const header = head[headerLine - 1];
  return {
    path,
    form,
    head,
    names: header === undefined ? [] : namesOf(header, form, path),
    rows: () => rowsOf(path, form, firstRow),
  };
}

function blocksOf(path: string, form: Mapping["file"]): Generator<TextBlock> {
  return textBlocks({ name: path, bytes: fileBytes(path), encoding: form.encoding });
}

function* rowsOf(path: string, form: Mapping["file"], firstRow: number): Generator<readonly Row[]> {
  for (const block of blocksOf(path, form)) {
    const skipped = Math.max(0, firstRow - block.firstLine);
    const lines = block.lines.slice(skipped);
    const blank = form.until === "blank" ? lines.findIndex((line) => line.trim() === "") : -1;
    const part = {
      ...block,
      firstLine: block.firstLine + skipped,
      lines: blank < 0 ? lines : lines.slice(0, blank),
    };
    yield split(part, form, path);
    if (blank >= 0) return;
  }
}

function split(block: TextBlock, form: Mapping["file"], path: string): readonly Row[] {
  if (form.separator === "characters") {
    return block.lines.flatMap((line, i) =>
      line.trim() === "" ? [] : [{ line: block.firstLine + i, fields: [line] }],
    );
  }
  const separator = form.separator === "tab" ? "\t" : form.separator;
  return separatedRows(block, { separator, comment: form.comment }, path);
}

function namesOf(header: string, form: Mapping["file"], path: string): readonly string[] {
  const [row] = split({ firstLine: 1, lines: [header], isCut: false }, form, path);
  return row?.fields ?? [];
}

/** Reads one value of a row; undefined where the row is too short for it. */
export type FieldReader = (row: Row) => string | undefined;

/** @returns null if the file has none of the names. */
export function findField(place: Place, file: ForeignFile): FieldReader | null {
  if (Array.isArray(place)) {
    const name = place.find((one) => file.names.includes(one));
    return name === undefined ? null : findField(name, file);
  }
  if (typeof place === "object") {
    const [first, last] = place.characters;
    return ({ fields }) => fields[0]?.slice(first - 1, last).trim();
  }
  const index = typeof place === "number" ? place - 1 : file.names.indexOf(place);
  return index < 0 ? null : ({ fields }) => fields[index];
}

/** @throws UserError with the nearest name that the file has. */
export function fieldOf(place: Place, file: ForeignFile, key: string): FieldReader {
  const found = findField(place, file);
  if (found !== null) return found;
  const wanted = namesIn(place);
  const near = wanted.flatMap((name) => nearestWord(name, file.names) ?? [])[0];
  throw new UserError([
    {
      code: "import-column",
      where: `${file.path}:${file.form.header === "none" ? 1 : file.form.header}`,
      key,
      found: file.names.length === 0 ? "no names of columns" : file.names.join(", "),
      expected: `a column ${wanted.join(" or ")}`,
      ...(near === undefined ? {} : { suggestion: `did you mean ${near}?` }),
    },
  ]);
}

/** The names that a place goes by; none if it is a number. */
export function namesIn(place: Place): readonly string[] {
  if (Array.isArray(place)) return place;
  return typeof place === "string" ? [place] : [];
}

/** @throws UserError if the head has no such number. */
export function readCell(cell: Cell, file: ForeignFile, key: string): number {
  const line = file.head[cell.line - 1] ?? "";
  const value = cellNumber(cellText(cell, line, file));
  if (value !== null) return (cell.west === true ? -Math.abs(value) : value) * (cell.times ?? 1);
  const where = `${file.path}:${cell.line}`;
  const expected = "a number, as the mapping has it";
  throw new UserError([{ code: "import-head", where, key, found: line.slice(0, 60), expected }]);
}

function cellText(cell: Cell, line: string, file: ForeignFile): string {
  if (cell.characters !== undefined) {
    return line.slice(cell.characters[0] - 1, cell.characters[1]);
  }
  if (cell.after !== undefined) return line.split(cell.after).slice(1).join(cell.after);
  return namesOf(line, file.form, file.path)[(cell.field ?? 1) - 1] ?? "";
}

/** `-105.9`, or degrees and minutes as in `W 80 16`. */
function cellNumber(text: string): number | null {
  const plain = text.trim();
  const [, side, degrees, minutes] = /^([NSEW])\s*(\d+)\s+(\d+)$/.exec(plain) ?? [];
  if (side !== undefined) {
    const size = Number(degrees) + Number(minutes) / 60;
    return side === "S" || side === "W" ? -size : size;
  }
  return plain !== "" && Number.isFinite(Number(plain)) ? Number(plain) : null;
}

function problem(where: string, found: string, expected: string): UserError {
  return new UserError([{ code: "import-empty", where, found, expected }]);
}
