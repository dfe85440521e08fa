/** `--vary path=values`: a key of the settings and what it is to be tried with. */
import { UserError } from "../../service/errors.ts";

export interface Varied {
  /** Dotted path, as `--set` takes it. */
  readonly key: string;
  /** As a person would write them. */
  readonly values: readonly string[];
}

const VALUES_USUAL = 5;
const VALUES_MAX = 100;
const DIGITS = 6;
const NUMBER = String.raw`(-?\d+(?:\.\d+)?)`;
const UNIT = String.raw`\s*([^\d\s.]*)`;
const RANGE = new RegExp(
  `^${NUMBER}${UNIT}\\s*\\.\\.\\s*${NUMBER}${UNIT}(?:\\s+by\\s+${NUMBER}${UNIT})?$`,
  "u",
);

/** @throws UserError unless it is a range with one unit, or a list. */
export function readVary(written: string): Varied {
  const at = written.indexOf("=");
  const key = written.slice(0, at).trim();
  const spec = written.slice(at + 1).trim();
  if (at < 1 || spec === "") throw refuse(written, "path=values");
  const range = RANGE.exec(spec);
  if (range === null && spec.includes(".."))
    throw refuse(written, "a range such as 0..6% or 0..6% by 2%");
  const values = range === null ? listed(spec) : ranged(written, range);
  if (values.length < 2) throw refuse(written, "two values or more");
  return { key, values: [...new Set(values)] };
}

function listed(spec: string): readonly string[] {
  return spec
    .split(",")
    .map((value) => value.trim())
    .filter((value) => value !== "");
}

function ranged(written: string, range: RegExpExecArray): readonly string[] {
  const [, from = "", fromUnit = "", to = "", toUnit = "", by, byUnit = ""] = range;
  const unit = toUnit;
  const isMixed = [fromUnit, byUnit].some((other) => other !== "" && other !== unit);
  if (isMixed) throw refuse(written, `one unit throughout: ${from}..${to} ${unit}`);
  const [low, high] = [Number(from), Number(to)];
  if (high <= low) throw refuse(written, "the smaller value first");
  const step = by === undefined ? (high - low) / (VALUES_USUAL - 1) : Number(by);
  const count = Math.floor((high - low) / step + 1e-9) + 1;
  if (!(step > 0) || count > VALUES_MAX) {
    throw refuse(written, `a step that makes at most ${String(VALUES_MAX)} values`);
  }
  return Array.from({ length: count }, (_, i) => {
    const value = Number((low + i * step).toPrecision(DIGITS));
    return unit === "" ? String(value) : `${String(value)} ${unit}`;
  });
}

function refuse(written: string, expected: string): UserError {
  return new UserError([
    {
      code: "vary",
      where: `--vary ${written}`,
      found: written,
      expected,
      suggestion: "loads.water-heater.start.aboveRuleCurve=0..6%, ruleCurve.at=85 %, 90 %",
    },
  ]);
}
