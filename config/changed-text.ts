/** A settings file with some keys changed, every comment where it was. */
import { isDeepStrictEqual } from "node:util";
import { isCollection, isMap, isNode, isScalar, parseDocument } from "yaml";
import type { Document, Pair, YAMLMap } from "yaml";
import { UserError } from "../service/errors.ts";
import type { SettingsPath } from "./findings.ts";
import { applyOverride } from "./overrides.ts";

export interface KeyChange {
  /** As `--set` takes it. */
  readonly key: string;
  /** In YAML, on one line; null: the key is taken out. */
  readonly value: string | null;
}

/** @throws UserError if a key leads nowhere or a value is no YAML. */
export function changedText(text: string, changes: readonly KeyChange[]): string {
  return changes.reduce(changedOnce, text);
}

/**
 * By as few characters as will do; where what that gives does not read as it should (the value
 * would change what stands around it), the file is written anew, which keeps its comments, too, but
 * not every blank.
 */
function changedOnce(text: string, { key, value }: KeyChange): string {
  if (/[\r\n]/u.test(value ?? "")) {
    const expected = "a value on one line";
    throw new UserError([{ code: "wrong-override", where: key, expected }]);
  }
  const document = parseDocument(text);
  const wanted = document.clone();
  const { path } = applyOverride(wanted, `${key}=${value ?? "null"}`);
  if (value === null) wanted.deleteIn([...path]);
  const spliced =
    value === null
      ? withoutPair(text, document, path)
      : (withValue(text, document, { path, value }) ?? withPair(text, document, { path, value }));
  if (spliced !== null && readsAs(spliced, wanted)) return spliced;
  return wanted.toString({ lineWidth: 0 });
}

function readsAs(text: string, wanted: Document): boolean {
  const read = parseDocument(text);
  return read.errors.length === 0 && isDeepStrictEqual(read.toJS(), wanted.toJS());
}

interface Given {
  readonly path: SettingsPath;
  readonly value: string;
}

function withValue(text: string, document: Document, { path, value }: Given): string | null {
  const node = document.getIn([...path], true);
  const range = isNode(node) ? node.range : null;
  if (range === null || range === undefined || !isNode(node)) return null;
  if (isCollection(node) && node.flow !== true) return null;
  return text.slice(0, range[0]) + value + text.slice(range[1]);
}

/** A new key goes behind the last one of the map that it belongs to. */
function withPair(text: string, document: Document, { path, value }: Given): string | null {
  const depth = path.findIndex((_, at) => !document.hasIn(path.slice(0, at + 1)));
  const map = depth > 0 ? document.getIn(path.slice(0, depth), true) : document.contents;
  if (!isMap(map) || map.range === null || map.range === undefined) return null;
  const [name, ...inner] = path.slice(depth);
  const nested = inner.reduceRight(
    (within, word) => `{ ${String(word)}: ${String(within)} }`,
    value,
  );
  const pair = `${String(name)}: ${String(nested)}`;
  const last = map.items.at(-1);
  if (last === undefined) return null;
  const end = endOf(last);
  if (map.flow === true) return `${text.slice(0, end)}, ${pair}${text.slice(end)}`;
  const lineEnd = lineEndFrom(text, end);
  const line = `\n${" ".repeat(columnOf(text, map))}${pair}`;
  return text.slice(0, lineEnd) + line + text.slice(lineEnd);
}

/** Whole lines of a block map; within braces the file is written anew. */
function withoutPair(text: string, document: Document, path: SettingsPath): string | null {
  const map = document.getIn(path.slice(0, -1), true);
  if (!isMap(map) || map.flow === true) return null;
  const pair = map.items.find(({ key }) => isScalar(key) && key.value === path.at(-1));
  if (pair === undefined || !isNode(pair.key) || !pair.key.range) return null;
  const from = text.lastIndexOf("\n", pair.key.range[0] - 1) + 1;
  return text.slice(0, from) + text.slice(lineEndFrom(text, endOf(pair)) + 1);
}

function endOf({ key, value }: Pair): number {
  const node = isNode(value) ? value : key;
  return (isNode(node) ? node.range?.[1] : undefined) ?? 0;
}

/** A block ends with its line's end, a value before a comment. */
function lineEndFrom(text: string, offset: number): number {
  if (text[offset - 1] === "\n") return offset - 1;
  const end = text.indexOf("\n", offset);
  return end === -1 ? text.length : end;
}

function columnOf(text: string, map: YAMLMap): number {
  const first = map.items[0]?.key;
  const start = (isNode(first) ? first.range?.[0] : undefined) ?? 0;
  return start - (text.lastIndexOf("\n", start - 1) + 1);
}
