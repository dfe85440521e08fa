import { UserError } from "../../service/errors.ts";

export interface DayComments {
  readonly site: string | null;
  readonly source: string | null;
  readonly stepMs: number | null;
  readonly place: { readonly latitudeDeg: number; readonly longitudeDeg: number } | null;
}

/** A comment's value and where a message about it points. */
export interface Comment {
  readonly value: string;
  readonly where: string;
}

/** `# key: value` lines by key; other comments are for people. */
export function findComments(
  lines: readonly string[],
  name: string,
  firstLine: number,
): ReadonlyMap<string, Comment> {
  const found = new Map<string, Comment>();
  for (const [i, line] of lines.entries()) {
    const [, key, value] = /^#\s*(\w+):\s*(.*?)\s*$/.exec(line) ?? [];
    if (key === undefined || value === undefined) continue;
    found.set(key, { value, where: `${name}:${firstLine + i}` });
  }
  return found;
}

/**
 * What the comments say: `site`, `step` (as `60 s`), `source`, `latitude` and `longitude` (degrees,
 * north and east positive).
 *
 * @throws UserError for a step or a coordinate that cannot be read.
 */
export function readComments(found: ReadonlyMap<string, Comment>): DayComments {
  const latitudeDeg = coordinate("latitude", 90);
  const longitudeDeg = coordinate("longitude", 180);
  return {
    site: found.get("site")?.value ?? null,
    source: found.get("source")?.value ?? null,
    stepMs: step(),
    place: latitudeDeg === null || longitudeDeg === null ? null : { latitudeDeg, longitudeDeg },
  };

  function step(): number | null {
    const entry = found.get("step");
    if (entry === undefined) return null;
    const match = /^(\d+(?:\.\d+)?) ?(s|min|h)$/.exec(entry.value);
    const seconds = { s: 1, min: 60, h: 3600 }[match?.[2] ?? ""];
    if (seconds === undefined || Number(match?.[1]) <= 0) throw bad("step", "a time like 60 s");
    return Number(match?.[1]) * seconds * 1000;
  }

  function coordinate(key: string, limit: number): number | null {
    const entry = found.get(key);
    if (entry === undefined) return null;
    const value = Number(entry.value);
    if (entry.value === "" || !(Math.abs(value) <= limit)) {
      throw bad(key, `degrees from −${limit} to ${limit}`);
    }
    return value;
  }

  function bad(key: string, expected: string): UserError {
    const { value = "", where = "" } = found.get(key) ?? {};
    return new UserError([{ code: "day-comment", where, key, found: value, expected }]);
  }
}
