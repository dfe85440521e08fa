/** What stands behind the question mark of an address, read and checked by name. */
import { localDayOf } from "../local-days.ts";

export interface Query {
  readonly text: (name: string) => string | null;
  /** A local day. */
  readonly date: (name: string) => number | null;
  /** An RFC 3339 time. [ms since 1970] */
  readonly instant: (name: string) => number | null;
  /** 1…max. */
  readonly whole: <T extends number | null>(name: string, usual: T, max: number) => number | T;
  /** The first that is wrong, in words; null: none is. */
  readonly fault: () => string | null;
}

const TEXT_MAX = 200;
const TIME = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}([.]\d+)?)?(Z|[+-]\d{2}:\d{2})$/u;

/** @param names - Any other one is a fault, so that a slip of the pen is not taken for "all". */
export function readQuery(given: unknown, names: readonly string[]): Query {
  const entries = typeof given === "object" && given !== null ? Object.entries(given) : [];
  const values = new Map<string, unknown>(entries);
  const unknown = [...values.keys()].find((name) => !names.includes(name));
  let fault: string | null =
    unknown === undefined ? null : `${unknown}: not known here; ${names.join(", ")} are`;

  const text = (name: string): string | null => {
    const value = values.get(name);
    if (value === undefined) return null;
    if (typeof value === "string" && value !== "" && value.length <= TEXT_MAX) return value;
    fault ??= `${name}: one text of 1 to ${String(TEXT_MAX)} characters`;
    return null;
  };
  const parsed = <T>(name: string, parse: (text: string) => T | null, wanted: string): T | null => {
    const value = text(name);
    if (value === null) return null;
    const result = parse(value);
    if (result === null) fault ??= `${name}: ${wanted}`;
    return result;
  };

  return {
    text,
    date: (name) => parsed(name, localDayOf, "a date such as 2026-03-02"),
    instant: (name) => parsed(name, instantOf, "a time such as 2026-03-02T06:00:00Z"),
    whole(name, usual, max) {
      const found = parsed(name, (value) => wholeOf(value, max), `1 to ${String(max)}`);
      return found ?? usual;
    },
    fault: () => fault,
  };
}

function instantOf(text: string): number | null {
  const atMs = TIME.test(text) ? Date.parse(text) : NaN;
  return Number.isNaN(atMs) ? null : atMs;
}

function wholeOf(text: string, max: number): number | null {
  const value = /^\d{1,16}$/u.test(text) ? Number(text) : NaN;
  return value >= 1 && value <= max ? value : null;
}
