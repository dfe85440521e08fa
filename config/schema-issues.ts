/** Turns what the schema finds into findings in our own words. */
import { z } from "zod";
import { errorAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import { answerForLaterKey } from "./later.ts";
import { settingsSchema } from "./schema.ts";
import { nearestWord } from "./suggestions.ts";

/** @param raw - The file's content as plain data. */
export function schemaFindings(raw: unknown): readonly Finding[] {
  const result = settingsSchema.safeParse(raw);
  if (result.success) return [];
  const findings = result.error.issues.flatMap((issue) => findingsOf(issue, raw));
  return findings.filter((finding) => !isMisspelt(finding, findings));
}

/** A key that is missed only because it stands there misspelt, which is told already. */
function isMisspelt({ code, path }: Finding, findings: readonly Finding[]): boolean {
  const place = path.slice(0, -1).join("\n");
  return (
    code === "missing-key" &&
    findings.some(
      (other) =>
        other.suggestion === didYouMean(String(path.at(-1))) &&
        other.path.slice(0, -1).join("\n") === place,
    )
  );
}

function didYouMean(word: string): string {
  return `did you mean ${word}?`;
}

type Issue = z.core.$ZodIssue;

function findingsOf(issue: Issue, raw: unknown): readonly Finding[] {
  const path = issue.path.map((segment) => (typeof segment === "symbol" ? "?" : segment));
  if (issue.code === "unrecognized_keys") {
    return issue.keys.map((key) => unknownKey(path, key, raw));
  }
  const value = valueAt(raw, path);
  const schema = schemaAt(path, raw);
  const words = wordsOf(issue);
  const meant = meantForm(issue);
  if (value !== undefined && meant !== undefined) {
    return meant.flatMap((inner) =>
      findingsOf({ ...inner, path: [...issue.path, ...inner.path] }, raw),
    );
  }
  if (value === undefined) return [missingKey({ path, schema, words })];
  if (issue.code === "custom") return [customFinding(path, issue)];
  if (words.length > 0) return [unknownWord({ path, value, words })];
  if (issue.code === "too_small" || issue.code === "too_big") {
    return [errorAt(path, "out-of-range", { expected: limitText(issue) })];
  }
  return [errorAt(path, "wrong-type", { expected: typeText(schema), ...typeHint(value) })];
}

/**
 * Where a short form and a map are allowed, the problems of the one that was written: it is the
 * only one that gets past the kind of value.
 */
function meantForm(issue: Issue): readonly Issue[] | undefined {
  if (issue.code !== "invalid_union") return undefined;
  const isOtherForm = ({ path, code }: Issue): boolean =>
    path.length === 0 && (code === "invalid_type" || code === "invalid_union");
  const possible = issue.errors.filter((inner) => !inner.some(isOtherForm));
  return possible.length === 1 ? possible[0] : undefined;
}

const customParams = z.object({
  code: z.string(),
  expected: z.string(),
  suggestion: z.string().optional(),
});

function customFinding(path: SettingsPath, issue: Issue & { code: "custom" }): Finding {
  const params = customParams.safeParse(issue.params);
  if (!params.success) return errorAt(path, "wrong-text", { expected: issue.message });
  const { code, expected, suggestion } = params.data;
  return errorAt(path, code, { expected, ...(suggestion === undefined ? {} : { suggestion }) });
}

function unknownKey(path: SettingsPath, key: string, raw: unknown): Finding {
  const at = [...path, key];
  const later = answerForLaterKey(at);
  if (later !== undefined) {
    return errorAt(at, "not-supported-yet", {
      expected: "a key that this version acts upon",
      suggestion: later,
      isAboutKey: true,
    });
  }
  if (isNestedTooDeep(at)) {
    return errorAt(at, "nested-too-deep", {
      expected: "fallback only at the signal itself, and combine only there or in its fallback",
      isAboutKey: true,
    });
  }
  const kinds = kindsWith(path, key, raw);
  if (kinds.length > 0) {
    return errorAt(at, "key-does-not-fit", {
      expected: `a key of this kind of load; ${key} belongs to kind ${kinds.join(", ")}`,
      isAboutKey: true,
    });
  }
  const known = keysOf(schemaAt(path, raw));
  const near = nearestWord(key, known);
  return errorAt(at, "unknown-key", {
    expected: near === undefined ? `one of ${known.join(", ")}` : "a key that is known here",
    ...(near === undefined ? {} : { suggestion: didYouMean(near) }),
    isAboutKey: true,
  });
}

/** What stands in for a sensor, or is a part of one, has no replacements or parts of its own. */
function isNestedTooDeep(path: SettingsPath): boolean {
  const key = path.at(-1);
  if (key !== "fallback" && key !== "combine" && key !== "of") return false;
  return path.slice(0, -1).some((segment) => segment === "fallback" || segment === "of");
}

function missingKey(at: {
  readonly path: SettingsPath;
  readonly schema: z.ZodType | undefined;
  readonly words: readonly string[];
}): Finding {
  const key = String(at.path.at(-1) ?? "");
  const example = exampleText(at.schema) ?? at.words[0];
  const choice = at.words.length > 1 ? `one of ${at.words.join(", ")}` : expectedText(at.schema);
  return errorAt(at.path, "missing-key", {
    found: "nothing",
    expected: choice,
    ...(example === undefined ? {} : { suggestion: `${key}: ${example}` }),
  });
}

function unknownWord(at: {
  readonly path: SettingsPath;
  readonly value: unknown;
  readonly words: readonly string[];
}): Finding {
  const written = typeof at.value === "string" ? at.value : JSON.stringify(at.value);
  const near = nearestWord(written, at.words);
  return errorAt(at.path, "unknown-value", {
    expected: at.words.length === 1 ? (at.words[0] ?? "") : `one of ${at.words.join(", ")}`,
    ...(near === undefined ? {} : { suggestion: didYouMean(near) }),
  });
}

/** The words that a choice allows; empty for what is not a choice. */
function wordsOf(issue: Issue): readonly string[] {
  if (issue.code === "invalid_value") return issue.values.map(String);
  if (issue.code !== "invalid_union") return [];
  if ("options" in issue && Array.isArray(issue.options)) return issue.options.map(String);
  const inner = issue.errors.flat();
  const isChoice = inner.length > 0 && inner.every((one) => one.code === "invalid_value");
  return isChoice ? inner.flatMap(wordsOf) : [];
}

function limitText(issue: Issue & { code: "too_small" | "too_big" }): string {
  const what = issue.origin === "array" ? "entries" : issue.origin === "string" ? "characters" : "";
  const limit = issue.code === "too_small" ? issue.minimum : issue.maximum;
  const side = issue.code === "too_small" ? "at least" : "at most";
  return `${side} ${String(limit)} ${what}`.trimEnd();
}

function typeHint(value: unknown): { suggestion?: string } {
  if (value === null) return { suggestion: "nothing stands after the colon: give a value" };
  if (typeof value === "number" || typeof value === "boolean") {
    return { suggestion: `if it is a text, put it in quotes: "${String(value)}"` };
  }
  return {};
}

function expectedText(schema: z.ZodType | undefined): string {
  const meta = schema?.meta();
  const about = meta?.description ?? kindText(schema);
  const unit = meta?.["unit"];
  const range = meta?.["range"];
  return [about, typeof unit === "string" ? `in ${unit}` : "", rangeText(range)]
    .filter((part) => part !== "")
    .join("; ");
}

/** The kind of value first: what is wrong with a word where a number belongs is its kind. */
function typeText(schema: z.ZodType | undefined): string {
  const kind = kindText(schema);
  const about = expectedText(schema);
  return about === kind ? kind : `${kind}: ${about}`;
}

function rangeText(range: unknown): string {
  return typeof range === "string" ? range : "";
}

function exampleText(schema: z.ZodType | undefined): string | undefined {
  const examples: unknown = schema?.meta()?.["examples"];
  const first: unknown = Array.isArray(examples) ? examples[0] : undefined;
  return typeof first === "string" ? first : undefined;
}

function kindText(schema: z.ZodType | undefined): string {
  const inner = schema === undefined ? undefined : unwrap(schema);
  if (inner instanceof z.ZodObject) return "a map of keys";
  if (inner instanceof z.ZodArray) return "a list";
  if (inner instanceof z.ZodNumber) return "a number";
  if (inner instanceof z.ZodBoolean) return "true or false";
  return "a text";
}

function keysOf(schema: z.ZodType | undefined): readonly string[] {
  const inner = schema === undefined ? undefined : unwrap(schema);
  return inner instanceof z.ZodObject ? Object.keys(inner.shape) : [];
}

/** The part of the schema that a path leads to; the data says which kind of load is meant. */
function schemaAt(path: SettingsPath, raw: unknown): z.ZodType | undefined {
  let schema: z.ZodType | undefined = settingsSchema;
  let value = raw;
  for (const segment of path) {
    if (schema === undefined) return undefined;
    schema = childSchema(variantFor(unwrap(schema), value), segment);
    value = valueAt(value, [segment]);
  }
  if (schema === undefined) return undefined;
  const inner = unwrap(schema);
  const variant = variantFor(inner, value);
  // What is wrapped carries the description of the key.
  return variant === inner ? schema : variant;
}

function variantFor(schema: z.ZodType, value: unknown): z.ZodType {
  if (!(schema instanceof z.ZodDiscriminatedUnion)) return mapForm(schema, value);
  const variants = schema.options.filter((option) => option instanceof z.ZodObject);
  const chosen = variants.find((option) => {
    const kind: unknown = option.shape["kind"];
    return kind instanceof z.ZodLiteral && kind.safeParse(valueAt(value, ["kind"])).success;
  });
  return chosen ?? variants[0] ?? schema;
}

/** Kinds of a section that know the key, where the section is divided into kinds. */
function kindsWith(path: SettingsPath, key: string, raw: unknown): readonly string[] {
  const parent = path.slice(0, -1);
  const last = path.at(-1);
  const within = last === undefined ? undefined : schemaAt(parent, raw);
  const section = within && childSchema(unwrap(within), last ?? "");
  if (!(section instanceof z.ZodDiscriminatedUnion)) return [];
  return section.options
    .filter((option) => option instanceof z.ZodObject)
    .filter((option) => Object.hasOwn(option.shape, key))
    .flatMap((option) => {
      const kind: unknown = option.shape["kind"];
      return kind instanceof z.ZodLiteral ? [...kind.values].map(String) : [];
    });
}

/** Of a short form and a map, the map where one is written. */
function mapForm(schema: z.ZodType, value: unknown): z.ZodType {
  if (!(schema instanceof z.ZodUnion) || typeof value !== "object") return schema;
  return schema.options.find((option) => option instanceof z.ZodObject) ?? schema;
}

function childSchema(schema: z.ZodType, segment: string | number): z.ZodType | undefined {
  const child: unknown =
    schema instanceof z.ZodObject
      ? schema.shape[segment]
      : schema instanceof z.ZodArray
        ? schema.element
        : schema instanceof z.ZodRecord
          ? schema.valueType
          : undefined;
  return child instanceof z.ZodType ? child : undefined;
}

function unwrap(schema: z.ZodType): z.ZodType {
  const isWrapper =
    schema instanceof z.ZodOptional ||
    schema instanceof z.ZodDefault ||
    schema instanceof z.ZodPrefault;
  if (!isWrapper) return schema;
  const inner: unknown = schema.unwrap();
  return inner instanceof z.ZodType ? unwrap(inner) : schema;
}

export function valueAt(raw: unknown, path: SettingsPath): unknown {
  let value = raw;
  for (const segment of path) {
    if (value === null || typeof value !== "object") return undefined;
    value = Object.hasOwn(value, segment) ? Reflect.get(value, segment) : undefined;
  }
  return value;
}
