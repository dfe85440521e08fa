/** The fields of a row, checked one by one: the same for every form of day file. */
import type { UserProblem } from "../../service/errors.ts";
import { columnRule, rangeAdvice } from "./column-rules.ts";
import { CHARGE_STAGES } from "./day-file.ts";
import { parseTime } from "./rfc3339.ts";

const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/;

export interface FieldAt {
  readonly column: string;
  /** Where a message points. */
  readonly where: string;
}

export interface Stamp {
  readonly atMs: number;
  readonly offsetMs: number;
}

/** The row's time as written. */
export function readStamp(text: string, where: string): Stamp | UserProblem {
  const stamp = parseTime(text);
  if (stamp !== null) return stamp;
  const expected = "an RFC 3339 time with Z or an offset like +02:00";
  const problem = { code: "day-time", where, found: text, expected };
  if (parseTime(`${text.replace(" ", "T")}Z`) === null) return problem;
  const suggestion =
    "local time alone does not say which of two hours it is when the clocks go back: " +
    "`bywash import` with a mapping that names the time zone writes the offsets";
  return { ...problem, suggestion };
}

/** @param beforeMs - Time of the row before; null: there is none. */
export function checkOrder(
  stamp: Stamp,
  beforeMs: number | null,
  at: { readonly where: string; readonly text: string },
): UserProblem | null {
  if (beforeMs === null || stamp.atMs > beforeMs) return null;
  const isTwice = stamp.atMs === beforeMs;
  return {
    code: "day-time-order",
    where: at.where,
    found: `${at.text}${isTwice ? ", the same instant as the row before" : ""}`,
    expected: "a time after that of the row before",
  };
}

/** @returns NaN for an empty field. */
export function readField(text: string, at: FieldAt): number | UserProblem {
  if (text === "") return NaN;
  if (at.column === "charge_stage") return readStage(text, at);
  const value = readNumber(text, at);
  return typeof value === "number" ? checkRange(value, at) : value;
}

/** The number that the text is, whatever its range. */
export function readNumber(text: string, at: FieldAt): number | UserProblem {
  return NUMBER.test(text) ? Number(text) : notANumber(text, at);
}

/** For values that are numbers already. NaN and null are empty fields. */
export function checkRange(value: number, at: FieldAt): number | UserProblem {
  const { min, max } = columnRule(at.column);
  const isChoice = at.column === "curtailed";
  const isFit = value >= min && value <= max && (!isChoice || value === min || value === max);
  if (isFit || Number.isNaN(value)) return value;
  const advice = rangeAdvice(at.column, value);
  return {
    code: "day-range",
    where: at.where,
    key: at.column,
    found: String(value),
    expected: isChoice ? "0 or 1" : `${min} to ${max} ${columnRule(at.column).unit}`.trimEnd(),
    ...(advice === undefined ? {} : { suggestion: advice }),
  };
}

function readStage(text: string, at: FieldAt): number | UserProblem {
  const stage = CHARGE_STAGES.findIndex((known) => known === text);
  if (stage >= 0) return stage;
  const expected = CHARGE_STAGES.join(", ");
  return { code: "day-value", where: at.where, key: at.column, found: text, expected };
}

function notANumber(text: string, at: FieldAt): UserProblem {
  const suggestion = /^[+-]?\d+,\d+$/.test(text)
    ? `a point in place of the comma: ${text.replace(",", ".")}`
    : undefined;
  return {
    code: "day-value",
    where: at.where,
    key: at.column,
    found: text,
    expected: "a number with a decimal point; nothing at all where it is missing",
    ...(suggestion === undefined ? {} : { suggestion }),
  };
}
