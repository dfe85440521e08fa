/** One column of the day file out of the rows of a foreign file. */
import { readNumber, checkRange } from "../days/row-values.ts";
import { CHARGE_STAGES } from "../days/day-file.ts";
import type { UserProblem } from "../../service/errors.ts";
import { UserError } from "../../service/errors.ts";
import type { Row } from "../days/separated-rows.ts";
import { fieldOf, findField } from "./foreign-file.ts";
import type { FieldReader, ForeignFile } from "./foreign-file.ts";
import type { ColumnMapping, Mapping } from "./mapping.ts";
import { conversionOf } from "./units.ts";

export interface ColumnReader {
  readonly column: string;
  /** @returns the value in the column's own unit; NaN where there is none. */
  readonly read: (row: Row, where: string) => number | UserProblem;
  /** Values that lay out of the column's range and were left empty. */
  emptied(): number;
}

export interface ColumnContext {
  readonly file: ForeignFile;
  readonly mapping: Mapping;
  /** null: not known. [s] */
  readonly stepS: number | null;
}

/** @throws UserError if a column that the mapping wants is not there. */
export function createColumnReaders(context: ColumnContext): readonly ColumnReader[] {
  const { file, mapping } = context;
  const readers = Object.entries(mapping.columns).flatMap(([column, about]) => {
    const isAbsent = about.optional === true && findField(about.from, file) === null;
    return isAbsent ? [] : [createColumnReader(column, about, context)];
  });
  if (readers.length > 0) return readers;
  const expected = `one of the columns ${Object.keys(mapping.columns).join(", ")}`;
  const found = file.names.join(", ");
  throw new UserError([{ code: "import-column", where: file.path, found, expected }]);
}

function createColumnReader(
  column: string,
  about: ColumnMapping,
  context: ColumnContext,
): ColumnReader {
  const { file, mapping } = context;
  const key = `columns.${column}`;
  const field = fieldOf(about.from, file, key);
  const isValid = about.valid === undefined ? null : validity(about.valid, file, key);
  const toNumber = numberReader(column, about, context);
  const isMissing = missingCodes([...mapping.missing, ...(about.missing ?? [])]);
  let emptied = 0;
  return {
    column,
    emptied: () => emptied,
    read(row, where) {
      const text = field(row)?.trim();
      if (text === undefined) return tooShort(row, { column, where });
      const isEmpty = isMissing(text) || isValid?.(row) === false;
      if (isEmpty) return about.fill ?? NaN;
      const value = toNumber(text, where);
      if (typeof value !== "number") return value;
      const checked = checkRange(value, { column, where });
      if (typeof checked === "number" || mapping.outOfRange === "refuse") return checked;
      emptied += 1;
      return NaN;
    },
  };
}

type NumberReader = (text: string, where: string) => number | UserProblem;

function numberReader(
  column: string,
  about: ColumnMapping,
  { file, mapping, stepS }: ColumnContext,
): NumberReader {
  const { words } = about;
  if (words !== undefined) return wordReader(column, words);
  const conversion = conversionOf(column, about.unit, stepS);
  if (conversion === null) {
    const expected = "time.step, since this unit is an energy of one step";
    throw new UserError([
      { code: "import-step", where: file.path, key: `columns.${column}`, expected },
    ]);
  }
  const times = conversion.times * (about.times ?? 1);
  const plus = conversion.plus + (about.plus ?? 0);
  return (text, where) => {
    const plain = mapping.file.decimal === "," ? text.replace(",", ".") : text;
    const value = readNumber(plain, { column, where });
    return typeof value === "number" ? value * times + plus : value;
  };
}

function wordReader(
  column: string,
  words: Readonly<Record<string, string | number>>,
): NumberReader {
  return (text, where) => {
    const word = Object.hasOwn(words, text) ? words[text] : undefined;
    if (typeof word === "number") return word;
    const stage = CHARGE_STAGES.findIndex((known) => known === word);
    if (stage >= 0) return stage;
    const expected = `one of the mapping's words: ${Object.keys(words).join(", ")}`;
    return { code: "import-word", where, key: column, found: text, expected };
  };
}

function validity(
  valid: NonNullable<ColumnMapping["valid"]>,
  file: ForeignFile,
  key: string,
): (row: Row) => boolean {
  const field: FieldReader = fieldOf(valid.from, file, key);
  return (row) => field(row)?.trim() === String(valid.is);
}

/** Codes match as they are written, and numbers also as numbers: −9999.9 is −9999.90. */
function missingCodes(codes: readonly (string | number)[]): (text: string) => boolean {
  const texts = new Set(["", ...codes.map(String)]);
  const numbers = new Set(codes.map(Number).filter((code) => !Number.isNaN(code)));
  return (text) => texts.has(text) || numbers.has(Number(text));
}

function tooShort(row: Row, at: { readonly column: string; readonly where: string }): UserProblem {
  const found = `${row.fields.length} fields`;
  const expected = "a field for this column";
  return { code: "day-fields", where: at.where, key: at.column, found, expected };
}
