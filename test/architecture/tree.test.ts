import { readdirSync, readFileSync, statSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";

const ROOTS = ["service", "config", "simulator", "test"];
const FILES_MIN = 100;
/** Their only job is to break rules. */
const PLANTED = join("test", "architecture", "planted");

function sources(): string[] {
  return ROOTS.flatMap((root) =>
    readdirSync(root, { recursive: true, encoding: "utf8" }).map((name) => join(root, name)),
  ).filter((path) => /\.(tsx?|mjs)$/.test(path) && !path.startsWith(PLANTED));
}

function linesMatching(pattern: RegExp): string[] {
  return sources().flatMap((path) =>
    readFileSync(path, "utf8")
      .split("\n")
      .map((text, index) => ({ text, place: `${path}:${index + 1}: ${text.trim()}` }))
      .filter(({ text }) => pattern.test(text))
      .map(({ place }) => place),
  );
}

describe("the tree", () => {
  it("is looked at", () => {
    expect(sources().length).toBeGreaterThanOrEqual(FILES_MIN);
  });

  it("has kebab-case file names", () => {
    const odd = sources().filter(
      (path) =>
        !/^[a-z0-9-]+(\.(test|property\.test|d))?\.(tsx?|mjs)$/.test(path.split("/").at(-1)!),
    );
    expect(odd).toEqual([]);
  });

  it("has no drawer for things that nobody wanted to name", () => {
    const drawers = sources().filter((path) =>
      /(^|\/)(utils?|helpers?|common|misc|types)(\/|\.)/.test(path),
    );
    expect(drawers).toEqual([]);
  });

  it("gives a reason with every suppression", () => {
    const suppression = new RegExp(
      "eslint-" + "disable|@ts-" + "expect-error|prettier-" + "ignore",
    );
    const reasonless = linesMatching(suppression).filter(
      (line) =>
        !/ -- \S|: \S.*\w+ \w+/.test(
          line.replace(/^[^:]+:\d+: /, "").replace(/^.*?(eslint-|@ts-|prettier-)/, ""),
        ),
    );
    expect(reasonless).toEqual([]);
  });

  it("names no machine's paths and no registry's host", () => {
    const shipped = ["deploy", ".ci"].flatMap((root) =>
      readdirSync(root, { recursive: true, encoding: "utf8" }).map((name) => join(root, name)),
    );
    const top = readdirSync(".").filter((name) =>
      /\.(json|mjs|md|ts)$|^Docker|^\.[den]/.test(name),
    );
    const readable = [...sources(), ...shipped, ...top].filter((path) => statSync(path).isFile());
    const local = new RegExp("/" + "work/|/" + "root/|registry" + "\\.|npmjs" + "\\.");
    expect(readable.length).toBeGreaterThan(FILES_MIN);
    expect(readable.filter((path) => local.test(readFileSync(path, "utf8")))).toEqual([]);
  });

  it("never silences the compiler wholesale", () => {
    expect(linesMatching(new RegExp("@ts-" + "(ignore|nocheck)"))).toEqual([]);
  });
});
