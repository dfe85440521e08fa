/** `--set path=value`: one key of the settings given on the command line. */
import { isCollection, isMap, isSeq, parseDocument } from "yaml";
import type { Document } from "yaml";
import { UserError } from "../service/errors.ts";
import type { SettingsPath } from "./findings.ts";
import { nearestWord } from "./suggestions.ts";

export interface AppliedOverride {
  /** The path as it was written. */
  readonly name: string;
  readonly path: SettingsPath;
  readonly value: string;
}

/** Puts the value into the document; whether the key exists at all, the schema says later. */
export function applyOverride(document: Document, written: string): AppliedOverride {
  const at = written.indexOf("=");
  if (at < 1) {
    throw refuse(written, "path=value", "site.tick=5s, loads.water-heater.priority=2");
  }
  const value = written.slice(at + 1).trim();
  const name = written.slice(0, at).trim();
  const path = resolvePath(document, name, written);
  const parsed = parseDocument(value, { prettyErrors: false });
  if (parsed.errors.length > 0) {
    throw refuse(written, `a value in YAML: ${parsed.errors[0]?.message ?? ""}`, undefined);
  }
  try {
    // A fresh node carries no position, by which a finding knows that it came from here.
    document.setIn([...path], document.createNode(parsed.toJS()));
  } catch {
    throw refuse(written, "the path of a key; a text or a number has no keys below it", undefined);
  }
  return { name, path, value };
}

/** How many dotted words make up a signal's name; other names have no dots. */
const SIGNAL_WORDS: ReadonlyMap<string, number> = new Map(
  Object.entries({
    battery: 2,
    inverter: 2,
    generator: 2,
    dcLoads: 2,
    forecast: 2,
    sky: 2,
    leg: 3,
    array: 3,
    hydro: 3,
    wind: 3,
  }),
);

function resolvePath(document: Document, dotted: string, written: string): SettingsPath {
  let words = dotted.split(".");
  if (words.some((word) => word === "")) {
    throw refuse(written, "a dotted path such as site.tick", undefined);
  }
  const path: (string | number)[] = [];
  let node: unknown = document.contents;
  while (words.length > 0) {
    const segment = isSeq(node) ? entryIndex(node.items, words, written) : keyAt(path, words);
    const count = typeof segment === "number" ? 1 : segment.split(".").length;
    path.push(segment);
    words = words.slice(count);
    node = isCollection(node) ? node.get(segment, true) : undefined;
  }
  return path;
}

function keyAt(path: SettingsPath, words: readonly string[]): string {
  const isSignal = path.length === 1 && path[0] === "telemetry";
  const count = isSignal ? (SIGNAL_WORDS.get(words[0] ?? "") ?? 1) : 1;
  return words.slice(0, count).join(".");
}

function entryIndex(items: readonly unknown[], words: readonly string[], written: string): number {
  const word = words[0] ?? "";
  const ids = items.map((item) => (isMap(item) ? String(item.get("id")) : ""));
  const byId = ids.indexOf(word);
  if (byId >= 0) return byId;
  const byPlace = /^\d{1,3}$/u.test(word) ? Number(word) : -1;
  if (byPlace >= 0 && byPlace < items.length) return byPlace;
  const near = nearestWord(word, ids);
  throw refuse(
    written,
    `an id of the list: ${ids.filter((id) => id !== "").join(", ")}`,
    near === undefined ? undefined : `did you mean ${near}?`,
  );
}

function refuse(written: string, expected: string, suggestion: string | undefined): UserError {
  return new UserError([
    {
      code: "wrong-override",
      where: `--set ${written}`,
      found: written,
      expected,
      ...(suggestion === undefined ? {} : { suggestion }),
    },
  ]);
}
