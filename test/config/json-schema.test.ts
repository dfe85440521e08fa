import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { parse } from "yaml";
import { settingsJsonSchema } from "../../config/json-schema.ts";

interface Schema {
  readonly type?: string;
  readonly description?: string;
  readonly properties?: Readonly<Record<string, Schema>>;
  readonly additionalProperties?: Schema | boolean;
  readonly items?: Schema;
  readonly oneOf?: readonly Schema[];
  readonly anyOf?: readonly Schema[];
  readonly required?: readonly string[];
}

function isObject(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

/** Keys that the schema does not list, or requires and the value lacks; enough for maps and lists. */
function misfits(value: unknown, schema: Schema, path: string): readonly string[] {
  if (Array.isArray(value)) {
    const { items } = schema;
    if (items === undefined) return [`${path}: no list`];
    return value.flatMap((entry, index) => misfits(entry, items, `${path}[${String(index)}]`));
  }
  if (!isObject(value)) return [];
  const options = schema.oneOf ?? schema.anyOf;
  if (options !== undefined) {
    const all = options.map((option) => misfits(value, option, path));
    return all.toSorted((one, other) => one.length - other.length)[0] ?? [];
  }
  const missing = (schema.required ?? []).filter((key) => !(key in value));
  const inner = Object.entries(value).flatMap(([key, child]) => {
    const more = schema.additionalProperties;
    const next = schema.properties?.[key] ?? (typeof more === "object" ? more : undefined);
    return next === undefined
      ? [`${path}.${key}: not listed`]
      : misfits(child, next, `${path}.${key}`);
  });
  return [...missing.map((key) => `${path}.${key}: missing`), ...inner];
}

const schema = settingsJsonSchema() as Schema;

test.each(["malga", "tasmania"])("the schema knows every key of %s.yaml", (name) => {
  const content: unknown = parse(readFileSync(`config/examples/${name}.yaml`, "utf8"));
  expect(misfits(content, schema, "$")).toEqual([]);
});

test("the comparison can fail", () => {
  const content = { version: 1, site: { id: "x", latitud: 1 }, loads: [{ kind: "switched" }] };
  expect(misfits(content, schema, "$")).toEqual(
    expect.arrayContaining(["$.site.latitud: not listed", "$.site.latitude: missing"]),
  );
});

/** Every key with the description that an editor shows. */
function undescribed(of: Schema, path: string): readonly string[] {
  const own = Object.entries(of.properties ?? {}).flatMap(([key, child]) => [
    ...(child.description === undefined ? [`${path}.${key}`] : []),
    ...undescribed(child, `${path}.${key}`),
  ]);
  const inner = [
    ...(of.oneOf ?? []),
    ...(of.anyOf ?? []),
    ...(of.items === undefined ? [] : [of.items]),
  ];
  return [...own, ...inner.flatMap((one) => undescribed(one, path))];
}

test("every key is described, and a map takes no key that is not listed", () => {
  expect(undescribed(schema, "$")).toEqual([]);
  expect(schema.additionalProperties).toBe(false);
  expect(JSON.stringify(schema)).toContain('"draft/2020-12"'.slice(1, -1));
});
