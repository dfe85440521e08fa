/**
 * Rows for tables of wrong settings: each changes one place of a small valid file and says where
 * the problem is to be found, under which code and key, and which words its text must contain.
 */
import { expect } from "vitest";
import { parseSite } from "../../config/load.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { UserError } from "../../service/errors.ts";
import type { UserProblem } from "../../service/errors.ts";

/** Where the problem is to be pointed at, within the changed text. */
const MARK = "‸";

export interface Row {
  readonly from: string;
  readonly to: string;
  readonly at: string;
  readonly code: string;
  readonly key: string;
  readonly says: string;
}

export function parse(text: string, overrides: readonly string[] = []): SiteSettings {
  return parseSite({ text, fileName: "site.yaml", overrides });
}

export function problemsOf(
  text: string,
  overrides: readonly string[] = [],
): readonly UserProblem[] {
  try {
    parse(text, overrides);
  } catch (error) {
    if (error instanceof UserError) return error.problems;
    throw error;
  }
  return [];
}

export function changed(valid: string, from: string, to: string): string {
  expect(valid.split(from), `"${from}" stands once in the valid file`).toHaveLength(2);
  return valid.replace(from, () => to);
}

/** @returns `row(from, to, "[line:column] code key words")`; without a place the mark says it. */
export function rowsOf(valid: string): (from: string, to: string, expected: string) => Row {
  return (from, to, expected) => {
    const words = expected.split(" ");
    const isPlaced = /^\d+:\d+$/u.test(words[0] ?? "");
    const at = isPlaced ? (words.shift() ?? "") : markedPlace(changed(valid, from, to));
    const [code = "", key = "", ...says] = words;
    return { from, to: to.replace(MARK, ""), at, code, key, says: says.join(" ") };
  };
}

function markedPlace(marked: string): string {
  const lines = (marked.split(MARK)[0] ?? "").split("\n");
  return `${String(lines.length)}:${String((lines.at(-1) ?? "").length + 1)}`;
}

export function expectRefused(valid: string, { from, to, at, code, key, says }: Row): void {
  const problems = problemsOf(changed(valid, from, to));
  const match = problems.find((problem) => problem.code === code && problem.key === key);
  expect(match, JSON.stringify(problems, null, 1)).toBeDefined();
  expect(match?.where).toBe(`site.yaml:${at}`);
  expect(Object.values(match ?? {}).join(" ")).toContain(says);
}
