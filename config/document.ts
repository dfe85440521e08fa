/**
 * The settings file as text with positions: reads YAML, applies `--set`, and can say for every key
 * where it stands, so that each finding points at a line that a person can go to.
 */
import {
  LineCounter,
  isCollection,
  isMap,
  isNode,
  isScalar,
  isSeq,
  parseDocument,
  visit,
} from "yaml";
import type { Document, Node, YAMLError } from "yaml";
import { UserError } from "../service/errors.ts";
import type { UserProblem } from "../service/errors.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import { applyOverride } from "./overrides.ts";
import type { AppliedOverride } from "./overrides.ts";

const CHARACTERS_MAX = 1_000_000;
const FOUND_LENGTH_MAX = 60;

export interface SettingsDocument {
  /** The content as plain data; nothing is known of it yet. */
  readonly raw: unknown;
  /** The problems that the findings are, in the order of the file. */
  problemsOf(findings: readonly Finding[]): readonly UserProblem[];
  /** One line for a warning. */
  lineOf(finding: Finding): string;
}

export interface DocumentSource {
  readonly text: string;
  readonly fileName: string;
  readonly overrides: readonly string[];
}

/** @throws UserError if the text is no YAML map at all, or an override leads nowhere. */
export function readDocument(source: DocumentSource): SettingsDocument {
  const text = source.text.replace(/^\uFEFF/u, "");
  refuseForeignText(text, source.fileName);
  const lines = new LineCounter();
  const document = parseDocument(text, { lineCounter: lines, prettyErrors: false });
  const file: YamlFile = { name: source.fileName, text, lines, document, overrides: [] };
  const faults = [...document.errors, ...document.warnings];
  // With a key given twice the rest can still be read, so that all problems come at once.
  if (faults.some((fault) => fault.code !== "DUPLICATE_KEY")) {
    throw new UserError(faults.map((fault) => yamlProblem(file, fault)));
  }
  if (!isMap(document.contents)) throw new UserError([notAMap(file)]);
  const overrides = source.overrides.map((written) => applyOverride(document, written));
  const overridden: YamlFile = { ...file, overrides };
  const raw = plainData(overridden);
  return {
    raw,
    problemsOf: (findings) => sortedProblems(overridden, raw, findings),
    lineOf: (finding) => warningLine(overridden, raw, finding),
  };
}

interface YamlFile {
  readonly name: string;
  readonly text: string;
  readonly lines: LineCounter;
  readonly document: Document;
  readonly overrides: readonly AppliedOverride[];
}

function refuseForeignText(text: string, fileName: string): void {
  const expected = "a settings file in YAML";
  if (text.includes("\0")) {
    throw new UserError([
      { code: "not-text", where: fileName, found: "binary data", expected, suggestion: "UTF-8" },
    ]);
  }
  if (text.length > CHARACTERS_MAX) {
    const found = `${String(text.length)} characters`;
    throw new UserError([
      { code: "file-too-large", where: fileName, found, expected: `${expected} of at most 1 MB` },
    ]);
  }
}

const YAML_SUGGESTIONS: Readonly<Record<string, string>> = {
  DUPLICATE_KEY: "each key once in its map: take one of them out",
  TAB_AS_INDENT: "indent with spaces; YAML allows no tabs",
  MULTIPLE_DOCS: "one document in a file: take out the line ---",
  BAD_INDENT: "indent keys of one map alike",
};

function yamlProblem(file: YamlFile, fault: YAMLError): UserProblem {
  const suggestion = YAML_SUGGESTIONS[fault.code];
  return {
    code: fault.code === "DUPLICATE_KEY" ? "duplicate-key" : "yaml-syntax",
    where: place(file, fault.pos[0]),
    found: excerpt(lineAt(file.text, fault.pos[0])),
    expected: `valid YAML: ${fault.message}`,
    ...(suggestion === undefined ? {} : { suggestion }),
  };
}

function lineAt(text: string, offset: number): string {
  const start = text.lastIndexOf("\n", offset - 1) + 1;
  const end = text.indexOf("\n", start);
  return text.slice(start, end === -1 ? undefined : end);
}

function notAMap(file: YamlFile): UserProblem {
  const isEmpty = file.document.contents === null;
  const found = isEmpty ? "nothing" : isSeq(file.document.contents) ? "a list" : "a text";
  return {
    code: isEmpty ? "file-empty" : "not-a-map",
    where: `${file.name}:1:1`,
    found,
    expected: "a map of keys: version, site, broker, battery …",
    suggestion: "start from one of the examples in config/examples",
  };
}

function plainData(file: YamlFile): unknown {
  try {
    return file.document.toJS({ maxAliasCount: 100 });
  } catch (error) {
    const found = error instanceof Error ? error.message : "an unreadable alias";
    const where = place(file, unresolvedAlias(file.document) ?? 0);
    throw new UserError([
      { code: "yaml-syntax", where, found, expected: "aliases that can be resolved" },
    ]);
  }
}

function unresolvedAlias(document: Document): number | undefined {
  let offset: number | undefined;
  visit(document, {
    Alias(_, node) {
      if (node.resolve(document) !== undefined) return undefined;
      offset = node.range?.[0];
      return visit.BREAK;
    },
  });
  return offset;
}

interface Position {
  /** In the text; overrides come after it. */
  readonly offset: number;
  readonly where: string;
  readonly source: string | undefined;
}

function sortedProblems(
  file: YamlFile,
  raw: unknown,
  findings: readonly Finding[],
): readonly UserProblem[] {
  const duplicates = file.document.errors.map((fault) => ({
    offset: fault.pos[0],
    problem: yamlProblem(file, fault),
  }));
  const placed = findings.map((finding) => problemAt(file, raw, finding));
  return [...duplicates, ...placed]
    .sort((one, other) => one.offset - other.offset)
    .map(({ problem }) => problem);
}

interface PlacedProblem {
  readonly offset: number;
  readonly problem: UserProblem;
}

function problemAt(file: YamlFile, raw: unknown, finding: Finding): PlacedProblem {
  const position = locate(file, finding);
  const found = finding.found ?? position.source;
  const { suggestion } = finding;
  const problem = {
    code: finding.code,
    where: position.where,
    key: dottedKey(raw, finding.path),
    ...(found === undefined ? {} : { found }),
    expected: finding.expected,
    ...(suggestion === undefined ? {} : { suggestion }),
  };
  return { offset: position.offset, problem };
}

function warningLine(file: YamlFile, raw: unknown, finding: Finding): string {
  const { where } = locate(file, finding);
  const advice = finding.suggestion === undefined ? "" : ` (${finding.suggestion})`;
  const found = finding.found === undefined ? "" : `${finding.found}; `;
  return `${where} ${dottedKey(raw, finding.path)}: ${found}${finding.expected}${advice}`;
}

/** Where the value stands; a missing one is looked for at the map that should hold it. */
function locate(file: YamlFile, finding: Finding): Position {
  let node: unknown = file.document.contents;
  let anchor = 0;
  for (const [depth, segment] of finding.path.entries()) {
    const step = stepInto(file.document, node, segment);
    const isLast = depth === finding.path.length - 1;
    if (step === undefined) return positionAt(file, anchor, undefined);
    const start = startOf(isLast && finding.isAboutKey === true ? step.key : step.value);
    // What `--set` put in has no place in the text.
    if (start === undefined && isNode(step.value)) return overridePosition(file, finding.path);
    anchor = startOf(step.key) ?? start ?? anchor;
    node = step.value;
    if (isLast) return positionAt(file, start ?? anchor, sourceOf(file, finding, step));
  }
  return positionAt(file, anchor, undefined);
}

interface Step {
  readonly key: unknown;
  readonly value: unknown;
}

function stepInto(document: Document, from: unknown, segment: string | number): Step | undefined {
  const node = isNode(from) ? (resolveAlias(document, from) ?? from) : from;
  if (isMap(node)) {
    const pair = node.items.find((item) => keyText(item.key) === String(segment));
    return pair === undefined ? undefined : { key: pair.key, value: pair.value };
  }
  if (isSeq(node) && typeof segment === "number") {
    const value = node.items[segment];
    return value === undefined ? undefined : { key: value, value };
  }
  return undefined;
}

function resolveAlias(document: Document, node: Node): unknown {
  return "resolve" in node && typeof node.resolve === "function"
    ? node.resolve(document)
    : undefined;
}

function keyText(key: unknown): string {
  return isScalar(key) ? String(key.value) : String(key);
}

function startOf(node: unknown): number | undefined {
  return isNode(node) ? (node.range?.[0] ?? undefined) : undefined;
}

function sourceOf(file: YamlFile, finding: Finding, step: Step): string | undefined {
  const node = finding.isAboutKey === true ? step.key : step.value;
  if (!isNode(node) || node.range === undefined || node.range === null) return undefined;
  if (isCollection(node) && finding.isAboutKey !== true) {
    const kind = isSeq(node) ? "a list" : "a map";
    return node.items.length === 0 ? `an empty ${kind.slice(2)}` : kind;
  }
  const [start, end] = node.range;
  return end > start ? excerpt(file.text.slice(start, end)) : "nothing";
}

function overridePosition(file: YamlFile, path: SettingsPath): Position {
  const isOnWay = (override: AppliedOverride): boolean =>
    override.path.every((segment, depth) => depth >= path.length || path[depth] === segment);
  const index = file.overrides.findLastIndex(isOnWay);
  const override = file.overrides[index];
  if (override === undefined) return positionAt(file, 0, undefined);
  // Without the value, which may be a password.
  const where = `--set ${excerpt(override.name)}`;
  return { offset: file.text.length + 1 + index, where, source: excerpt(override.value) };
}

function positionAt(file: YamlFile, offset: number, source: string | undefined): Position {
  return { offset, where: place(file, offset), source };
}

function place(file: YamlFile, offset: number): string {
  const { line, col } = file.lines.linePos(offset);
  return `${file.name}:${String(Math.max(1, line))}:${String(Math.max(1, col))}`;
}

function excerpt(text: string): string {
  const [line = ""] = text.trim().split("\n");
  const plain = line.replace(/[\u0000-\u001F\u007F]/gu, "?");
  return plain.length > FOUND_LENGTH_MAX ? `${plain.slice(0, FOUND_LENGTH_MAX - 1)}…` : plain;
}

/** `loads.water-heater.start.for`: list entries by their id where they have one. */
function dottedKey(raw: unknown, path: SettingsPath): string {
  let value = raw;
  const names: string[] = [];
  for (const segment of path) {
    value = isRecord(value) ? value[segment] : undefined;
    const id = isRecord(value) ? value["id"] : undefined;
    const isEntry = typeof segment === "number";
    names.push(isEntry && typeof id === "string" ? id : isEntry ? `[${String(segment)}]` : segment);
  }
  return names.join(".") || "(the whole file)";
}

function isRecord(value: unknown): value is Record<string | number, unknown> {
  return typeof value === "object" && value !== null;
}
