import { UserError } from "../../service/errors.ts";

export interface DayComments {
  readonly site: string | null;
  readonly source: string | null;
  readonly stepMs: number | null;
  readonly place: { readonly latitudeDeg: number; readonly longitudeDeg: number } | null;
}

/**
 * What the `# key: value` lines say: `site`, `step` (as `60 s`), `source`, `latitude` and
 * `longitude` (degrees, north and east positive). Other comments are for people.
 *
 * @throws UserError for a step or a coordinate that cannot be read.
 */
export function parseComments(text: string, name: string): DayComments {
  const found = new Map<string, { readonly value: string; readonly line: number }>();
  for (const [i, line] of text.split("\n").entries()) {
    const match = /^\uFEFF?#\s*(\w+):\s*(.*?)\s*$/.exec(line);
    const [, key, value] = match ?? [];
    if (key !== undefined && value !== undefined) found.set(key, { value, line: i + 1 });
  }
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
    const entry = found.get(key);
    const where = `${name}:${entry?.line ?? 1}`;
    return new UserError([
      { code: "day-comment", where, key, found: entry?.value ?? "", expected },
    ]);
  }
}
