/** Events, the newest first, a page at a time. */
import { numberIn, numberOrNullIn, textIn } from "./reader.ts";
import type { Reader } from "./reader.ts";

export interface EventFilter {
  readonly fromMs: number | null;
  /** Not included. */
  readonly toMs: number | null;
  /** Id of a load. */
  readonly load: string | null;
  /** One of these codes; null: any. */
  readonly codes: readonly string[] | null;
  /** Part of the owner's id, or one of `textCodes`; null: any. */
  readonly text: string | null;
  readonly textCodes: readonly string[];
  /** Number of an event: only those before it. */
  readonly before: number | null;
  readonly limit: number;
}

export interface StoredEvent {
  readonly number: number;
  readonly atMs: number;
  readonly about: string;
  readonly owner: string;
  readonly change: string;
  readonly code: string;
  /** Of the decision that it came with, where there was one. */
  readonly measured: number | null;
  readonly limit: number | null;
}

/** @throws Error of the database */
export function readEvents(reader: Reader, filter: EventFilter): StoredEvent[] {
  const { conditions, values } = conditionsOf(filter);
  const where = conditions.length === 0 ? "" : `WHERE ${conditions.join(" AND ")} `;
  const rows = reader.rows(
    "SELECT event.id, event.at_ms, event.about, event.owner, change, event.code, " +
      "measured, limit_value FROM event LEFT JOIN decision ON decision.at_ms = event.at_ms AND " +
      "decision.about = event.about AND decision.owner = event.owner AND " +
      `decision.code = event.code ${where}ORDER BY event.id DESC LIMIT ?`,
    ...values,
    filter.limit,
  );
  return rows.map((row) => ({
    number: numberIn(row, 0),
    atMs: numberIn(row, 1),
    about: textIn(row, 2),
    owner: textIn(row, 3),
    change: textIn(row, 4),
    code: textIn(row, 5),
    measured: numberOrNullIn(row, 6),
    limit: numberOrNullIn(row, 7),
  }));
}

function conditionsOf(filter: EventFilter): {
  readonly conditions: readonly string[];
  readonly values: readonly (string | number)[];
} {
  const conditions: string[] = [];
  const values: (string | number)[] = [];
  const add = (condition: string, ...given: readonly (string | number)[]): void => {
    conditions.push(condition);
    values.push(...given);
  };
  const { fromMs, toMs, load, codes, text, textCodes, before } = filter;
  if (fromMs !== null) add("event.at_ms >= ?", fromMs);
  if (toMs !== null) add("event.at_ms < ?", toMs);
  if (load !== null) add("event.about = 'load' AND event.owner = ?", load);
  if (codes !== null) add(`event.code IN (${codes.map(() => "?").join(",")})`, ...codes);
  if (before !== null) add("event.id < ?", before);
  if (text !== null) {
    const marks = textCodes.map(() => "?").join(",");
    // `instr`, since `LIKE` would take a person's percent sign for any text.
    add(
      `(instr(lower(event.owner), ?) > 0 OR event.code IN (${marks}))`,
      text.toLowerCase(),
      ...textCodes,
    );
  }
  return { conditions, values };
}
