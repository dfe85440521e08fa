/**
 * One wrong key is one error, told at that key: nothing else is called wrong that is right again
 * as soon as the first is mended.
 */
import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { isMap, isScalar, isSeq, parseDocument } from "yaml";
import type { Document } from "yaml";
import { problemsOf } from "./wrong-rows.ts";

type Path = readonly (string | number)[];

const FILES = ["malga", "tasmania"].map((name) =>
  readFileSync(`config/examples/${name}.yaml`, "utf8"),
);
/** What no key of the settings takes. */
const NEVER_RIGHT = ["-7 parsecs", { odd: 1 }];

test.each(FILES)("a value that cannot be read is told where it stands, and only there", (text) => {
  const document = parseDocument(text);
  const wrong = everyPath(document).flatMap((path, index) => {
    const changed = document.clone();
    changed.setIn(path, changed.createNode(NEVER_RIGHT[index % NEVER_RIGHT.length]));
    return elsewhere(changed, [path]);
  });
  expect(wrong).toStrictEqual([]);
});

test.each(FILES)("a key that is misspelt is told where it stands, and only there", (text) => {
  const document = parseDocument(text);
  const wrong = everyPath(document).flatMap((path, index) => {
    const key = path.at(-1);
    // A third of them: every kind of key is there several times.
    if (index % 3 !== 0) return [];
    if (typeof key !== "string") return [];
    const changed = document.clone();
    const map = changed.getIn(path.slice(0, -1), true) ?? changed.contents;
    if (!isMap(map)) throw new Error(`no map around ${path.join(".")}`);
    for (const { key: node } of map.items) {
      if (isScalar(node) && node.value === key) node.value = `${key}x`;
    }
    return elsewhere(changed, [path, [...path.slice(0, -1), `${key}x`]]);
  });
  expect(wrong).toStrictEqual([]);
});

test("a required key that is misspelt is not called missing besides", () => {
  const [text = ""] = FILES;
  const codes = problemsOf(text.replace(/^inverter:/mu, "invertor:")).map(({ code }) => code);
  expect(codes).toStrictEqual(["unknown-key"]);
});

test("what refers to nothing is told, beside a part that cannot be read but has another name", () => {
  const [text = ""] = FILES;
  const changed = text
    .replace("tilt: 38°", "tilt: 138°")
    .replace("array.roof.power", "array.barn.power")
    .replace("breaker: 40 A", "breaker: 40 V")
    .replace("panel: surplus", "panel: workshop");
  const found = problemsOf(changed).map(({ code, key }) => [code, key]);
  expect(found).toStrictEqual([
    ["out-of-range", "arrays.roof.tilt"],
    ["unknown-signal", "telemetry.array.barn.power"],
    ["wrong-unit", "panels.surplus.breaker"],
    ["unknown-panel", "loads.water-heater.panel"],
  ]);
});

function everyPath(document: Document): readonly Path[] {
  const paths: Path[] = [];
  const walk = (node: unknown, path: Path): void => {
    if (path.length > 0) paths.push(path);
    if (isSeq(node)) node.items.forEach((item, index) => walk(item, [...path, index]));
    if (!isMap(node)) return;
    for (const { key, value } of node.items) {
      if (isScalar(key)) walk(value, [...path, String(key.value)]);
    }
  };
  walk(document.contents, []);
  expect(paths.length).toBeGreaterThan(150);
  return paths;
}

/** The problems of the text that stand neither at one of the places nor under it. */
function elsewhere(document: Document, places: readonly Path[]): readonly string[] {
  const raw: unknown = document.toJS();
  const names = places.map((path) => shownKey(raw, path));
  const isThere = (key: string): boolean =>
    names.some((name) => key === name || key.startsWith(`${name}.`));
  return problemsOf(String(document))
    .filter(({ key = "" }) => !isThere(key))
    .map(({ key = "", code, expected }) => `${names.join(", ")} → ${key}: ${code}, ${expected}`);
}

/** As keys are named to the user: list entries by their id where they have one. */
function shownKey(raw: unknown, path: Path): string {
  let value = raw;
  const names = path.map((segment) => {
    value = isRecord(value) ? value[segment] : undefined;
    if (typeof segment === "string") return segment;
    const id = isRecord(value) ? value["id"] : undefined;
    return typeof id === "string" ? id : `[${String(segment)}]`;
  });
  return names.join(".");
}

function isRecord(value: unknown): value is Record<string | number, unknown> {
  return typeof value === "object" && value !== null;
}
