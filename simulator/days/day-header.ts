/** The line that names the columns. */
import { nearestWord } from "../../config/suggestions.ts";
import { UserError } from "../../service/errors.ts";
import type { UserProblem } from "../../service/errors.ts";
import { FIXED_COLUMNS, isLoadColumn } from "./day-file.ts";

/**
 * @param fields - The header's fields, `time` first.
 * @returns the columns after `time`.
 * @throws UserError with every column that is not known or is there twice.
 */
export function checkHeader(fields: readonly string[], where: string): readonly string[] {
  const [time = "", ...columns] = fields;
  const problems: UserProblem[] = time === "time" ? [] : [noTimeColumn(fields, where)];
  for (const [c, column] of columns.entries()) {
    if (!isDayColumn(column)) problems.push(unknownColumn(column, where));
    if (columns.indexOf(column) !== c) {
      const expected = "each column once";
      problems.push({ code: "day-column-twice", where, found: column, expected });
    }
  }
  // Of a line that is no header at all, each field would be a problem of its own.
  if (problems.length > 0) throw new UserError(time === "time" ? problems : problems.slice(0, 1));
  return columns;
}

export function isDayColumn(name: string): boolean {
  return FIXED_COLUMNS.some((known) => known === name) || isLoadColumn(name);
}

function noTimeColumn(fields: readonly string[], where: string): UserProblem {
  const [first = ""] = fields;
  const suggestion = headerAdvice(fields);
  return {
    code: "day-header",
    where,
    found: first,
    expected: "a header whose first column is time",
    ...(suggestion === undefined ? {} : { suggestion }),
  };
}

function headerAdvice(fields: readonly string[]): string | undefined {
  const [first = ""] = fields;
  const separator = [";", "\t", "|"].find((one) => fields.length === 1 && first.includes(one));
  if (separator !== undefined) {
    const shown = separator === "\t" ? "tabs" : separator;
    return (
      `columns are separated by commas and decimals by points; this file has ${shown}. ` +
      "`bywash import` reads it with a mapping"
    );
  }
  if (/^\d/.test(first)) return "this looks like a row of values: the header is missing";
  if (fields.includes("time")) return "put the column time first";
  return "`bywash import` reads other programs' columns with a mapping";
}

/** @returns what to say of a column that is not ours, with the nearest that is. */
export function unknownColumn(column: string, where: string): UserProblem {
  const nearest = nearestWord(column, FIXED_COLUMNS);
  return {
    code: "day-column",
    where,
    found: column,
    expected: "a column of the day file, load_<id>_w or tank_<id>_c",
    ...(nearest === undefined ? {} : { suggestion: nearest }),
  };
}
