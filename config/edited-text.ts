/** A settings file's text with some keys changed and every comment where it was. */
import { isScalar, parseDocument } from "yaml";
import { applyOverride } from "./overrides.ts";

export interface EditedLine {
  /** From 1. */
  readonly line: number;
  readonly before: string;
  readonly after: string;
}

/**
 * @param overrides - As `--set` takes them; each for a key that has a single value in the file.
 * @returns the lines that change; null: one of the keys does not stand in the file.
 */
export function editedLines(
  text: string,
  overrides: readonly string[],
): readonly EditedLine[] | null {
  const document = parseDocument(text);
  const splices: { from: number; to: number; value: string }[] = [];
  for (const written of overrides) {
    const copy = parseDocument(text);
    const { path, value } = applyOverride(copy, written);
    const node = document.getIn(path, true);
    if (!isScalar(node) || node.range === undefined || node.range === null) return null;
    splices.push({ from: node.range[0], to: node.range[1], value });
  }
  splices.sort((one, other) => other.from - one.from);
  let changed = text;
  for (const { from, to, value } of splices) {
    changed = changed.slice(0, from) + value + changed.slice(to);
  }
  const after = changed.split("\n");
  return text.split("\n").flatMap((before, index) => {
    const line = after[index] ?? "";
    return line === before ? [] : [{ line: index + 1, before, after: line }];
  });
}
