/** Every key of a settings file with what it means: those given, and those whose default holds. */
import { isMap, isScalar, isSeq, parseDocument } from "yaml";
import type { Node, YAMLMap } from "yaml";
import { settingsJsonSchema } from "./json-schema.ts";

export interface ExplainedKey {
  /** As `--set` takes it: `loads.water-heater.minRun`. */
  readonly key: string;
  /** As it is written; null: not given. */
  readonly value: string | null;
  readonly meaning: string;
  /** What holds where it is not given; null: nothing, or it must be given. */
  readonly fallback: string | null;
  /** Such as `1 s to 1 min`. */
  readonly range: string | null;
  readonly isAdvanced: boolean;
}

interface Schema {
  readonly properties?: Readonly<Record<string, Schema>>;
  readonly additionalProperties?: Schema | boolean;
  readonly items?: Schema;
  readonly anyOf?: readonly Schema[];
  readonly oneOf?: readonly Schema[];
  readonly const?: unknown;
  readonly default?: unknown;
  readonly description?: string;
  readonly range?: string;
  readonly audience?: string;
}

/** In the order of the schema; keys that the schema does not know are left to the check. */
export function explainedSettings(text: string): readonly ExplainedKey[] {
  const document = parseDocument(text);
  const found: ExplainedKey[] = [];
  const schema: Schema = settingsJsonSchema();
  walk({ schema, node: document.contents, key: "", meaning: "" }, { text, found });
  return found;
}

interface Place {
  readonly schema: Schema;
  readonly node: unknown;
  readonly key: string;
  /** Of what it stands in, where it has none itself. */
  readonly meaning: string;
}

interface Walk {
  readonly text: string;
  readonly found: ExplainedKey[];
}

function walk(place: Place, out: Walk): void {
  const { node, key } = place;
  const schema = chosen(place.schema, node);
  const meaning = schema.description ?? place.schema.description ?? place.meaning;
  if (isMap(node) && schema.properties !== undefined) {
    for (const [name, property] of Object.entries(schema.properties)) {
      const value = node.get(name, true);
      walk({ schema: property, node: value, key: joined(key, name), meaning }, out);
    }
    return;
  }
  const each = schema.additionalProperties;
  if (isMap(node) && typeof each === "object") {
    for (const { key: name, value } of node.items) {
      walk({ schema: each, node: value, key: joined(key, String(name)), meaning }, out);
    }
    return;
  }
  if (isSeq(node) && schema.items !== undefined && node.items.some(isMap)) {
    for (const [index, item] of node.items.entries()) {
      const name = isMap(item) ? nameOf(item, index) : String(index);
      walk({ schema: schema.items, node: item, key: joined(key, name), meaning }, out);
    }
    return;
  }
  out.found.push({
    key,
    value: isNode(node) ? written(node, key, out.text) : null,
    meaning,
    fallback: fallbackOf(place.schema) ?? fallbackOf(schema),
    range: schema.range ?? place.schema.range ?? null,
    isAdvanced: (schema.audience ?? place.schema.audience) === "advanced",
  });
}

/** Of the forms that a value may have, the one that it has: by its kind, else by its keys. */
function chosen(schema: Schema, node: unknown): Schema {
  const forms = schema.anyOf ?? schema.oneOf;
  if (forms === undefined) return schema;
  if (!isMap(node)) return forms.find(({ properties }) => properties === undefined) ?? schema;
  const fitting = forms.filter((form) => isPossible(form, node));
  return fitting.toSorted((a, b) => keysIn(b, node) - keysIn(a, node))[0] ?? schema;
}

function isPossible({ properties }: Schema, node: YAMLMap): boolean {
  return Object.entries(properties ?? {}).every(
    ([name, property]) => property.const === undefined || node.get(name) === property.const,
  );
}

function keysIn({ properties = {} }: Schema, node: YAMLMap): number {
  return Object.keys(properties).filter((name) => node.has(name)).length;
}

function nameOf(item: YAMLMap, index: number): string {
  const id = item.get("id");
  return typeof id === "string" ? id : String(index);
}

function joined(key: string, name: string): string {
  return key === "" ? name : `${key}.${name}`;
}

function isNode(node: unknown): node is Node {
  return isScalar(node) || isMap(node) || isSeq(node);
}

function fallbackOf({ default: value }: Schema): string | null {
  if (typeof value === "string") return value;
  return typeof value === "number" || typeof value === "boolean" ? String(value) : null;
}

/** As it stands in the file, on one line; a password in an address is left out. */
function written(node: Node, key: string, text: string): string {
  const [from = 0, to = 0] = node.range ?? [];
  const plain = text.slice(from, to).trim().replace(/\s+/gu, " ");
  return key === "broker.url" ? plain.replace(/\/\/[^@/]*@/u, "//…@") : plain;
}
