/** Lines of text as rows of fields. */
import { CsvError, parse } from "csv-parse/sync";
import { UserError } from "../../service/errors.ts";
import type { TextBlock } from "./text-blocks.ts";

export interface Row {
  /** Its line in the file, from 1. */
  readonly line: number;
  readonly fields: readonly string[];
}

export interface RowForm {
  /** One character, or `spaces` for any number of blanks. */
  readonly separator: string;
  /** What lines begin with that are no rows; empty: nothing. */
  readonly comment: string;
}

/** @throws UserError for a quotation mark without its partner. */
export function separatedRows(block: TextBlock, form: RowForm, name: string): readonly Row[] {
  if (form.separator === "spaces") return spacedRows(block, form);
  const rows: Row[] = [];
  try {
    parse(block.lines.join("\n"), {
      delimiter: form.separator,
      ...(form.comment === "" ? {} : { comment: form.comment, comment_no_infix: true }),
      relax_column_count: true,
      skip_empty_lines: true,
      trim: true,
      on_record: (fields, { lines }) => {
        rows.push({ line: block.firstLine + lines - 1, fields });
        return null;
      },
    });
    return rows;
  } catch (error) {
    if (!(error instanceof CsvError)) throw error;
    const lines = typeof error["lines"] === "number" ? error["lines"] : 1;
    const where = `${name}:${block.firstLine + lines - 1}`;
    const expected = "quotation marks in pairs";
    throw new UserError([{ code: "day-csv", where, found: error.message, expected }]);
  }
}

function spacedRows(block: TextBlock, form: RowForm): readonly Row[] {
  return block.lines.flatMap((line, i) => {
    const text = line.trim();
    const isComment = form.comment !== "" && text.startsWith(form.comment);
    if (text === "" || isComment) return [];
    return [{ line: block.firstLine + i, fields: text.split(/\s+/) }];
  });
}
