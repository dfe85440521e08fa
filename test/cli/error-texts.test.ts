import { describe, expect, it } from "vitest";
import { formatProblem, UserError } from "../../service/errors.ts";
import { hangingLines } from "../../service/hanging-text.ts";

const PROBLEM = { code: "unknown-key", where: "site.yaml:3:5", expected: "a key" };
const WORDS = Array.from({ length: 40 }, (_, index) => `word${index}`);

describe("hanging text", () => {
  it("breaks between words at 80 columns and not before", () => {
    const line = `${"a".repeat(39)} ${"b".repeat(40)}`;
    expect(hangingLines("", line, 2)).toEqual([line]);
    expect(hangingLines("", `${line}b`, 2)).toEqual(["a".repeat(39), `  ${"b".repeat(41)}`]);
  });

  it("loses no word, and begins what follows under the first", () => {
    const lines = hangingLines("head: ", WORDS.join(" "));
    expect(lines.length).toBeGreaterThan(3);
    expect(lines.join(" ").split(/ +/u)).toEqual(["head:", ...WORDS]);
    for (const line of lines.slice(1)) expect(line).toMatch(/^ {6}\S/u);
    for (const line of lines) expect(line.length).toBeLessThanOrEqual(80);
  });

  it("keeps a long word whole, and the text's own breaks", () => {
    const path = `/${"long".repeat(30)}`;
    expect(hangingLines("at ", path)).toEqual([`at ${path}`]);
    expect(hangingLines("at ", `one\ntwo\n`)).toEqual(["at one", "   two"]);
  });
});

describe("a problem in words", () => {
  it("has each part under its name, those that are absent left out", () => {
    expect(formatProblem(PROBLEM)).toBe("site.yaml:3:5  [unknown-key]\n  expected: a key");
    const whole = { ...PROBLEM, key: "a.b", found: "c", suggestion: "d" };
    expect(formatProblem(whole).split("\n")).toEqual([
      "site.yaml:3:5  [unknown-key]",
      "  key:      a.b",
      "  found:    c",
      "  expected: a key",
      "  try:      d",
    ]);
  });

  it("says nothing where nothing was written", () => {
    expect(formatProblem({ ...PROBLEM, found: "" })).toContain("\n  found:    nothing\n");
  });

  it("fits 80 columns, whatever was found or is expected", () => {
    const long = WORDS.join(" ");
    const text = formatProblem({ ...PROBLEM, found: long, expected: long, suggestion: long });
    for (const line of text.split("\n")) expect(line.length).toBeLessThanOrEqual(80);
    expect(text.match(/word39/gu)).toHaveLength(3);
  });

  it("keeps a long place whole on a line of its own", () => {
    const where = `/srv/a folder/${"deep/".repeat(14)}site.yaml:3:5`;
    expect(
      formatProblem({ ...PROBLEM, where })
        .split("\n")
        .slice(0, 2),
    ).toEqual([where, "  [unknown-key]"]);
  });

  it("stands apart from the next by an empty line", () => {
    const { message } = new UserError([PROBLEM, PROBLEM]);
    expect(message.split("\n\n")).toHaveLength(2);
  });
});
