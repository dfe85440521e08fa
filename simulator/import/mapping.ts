/**
 * The mapping file: what the columns of a foreign file are. Every key is described in the head of
 * `maps/example.yaml`, which a test keeps complete.
 */
import { z } from "zod";
import { CHARGE_STAGES } from "../days/day-file.ts";

const FROM_ONE = { error: "a whole number from 1" };
const position = z.int(FROM_ONE).min(1, FROM_ONE);

/** Where a value stands in its row. */
const place = z.union(
  [
    z.string().min(1),
    position,
    z.array(z.string().min(1)).min(1),
    z.strictObject({ characters: z.tuple([position, position]) }),
  ],
  {
    error:
      "a column's name, its number, a list of names of which the first that is there " +
      "counts, or the first and last character in the line: { characters: [18, 21] }",
  },
);

/** A number that the file itself carries, above its rows. */
const cell = z.strictObject({
  line: position,
  field: position.optional(),
  after: z.string().min(1).optional(),
  characters: z.tuple([position, position]).optional(),
  times: z.number().optional(),
  west: z.boolean().optional(),
});

const coordinate = z.union([z.number(), cell], {
  error: "degrees, north and east positive, or where the file says it: { line: 1, field: 5 }",
});

const zone = z.union(
  [z.string().min(1), cell, z.strictObject({ byColumn: z.record(z.string(), z.string()) })],
  {
    error:
      "a name such as Europe/Rome, UTC, an offset such as +01:00, where the file says the " +
      "hours: { line: 1, field: 4 }, or { byColumn: { MST: -07:00 } }",
  },
);

const column = z.strictObject({
  from: place,
  unit: z.string().optional(),
  times: z.number().optional(),
  plus: z.number().optional(),
  missing: z.array(z.union([z.string(), z.number()])).optional(),
  fill: z.number().optional(),
  optional: z.boolean().optional(),
  words: z.record(z.string(), z.union([z.enum(CHARGE_STAGES), z.literal([0, 1])])).optional(),
  valid: z.strictObject({ from: place, is: z.union([z.string(), z.number()]) }).optional(),
});

const columns = z.preprocess(withFrom, z.record(z.string(), column));

const file = z.strictObject({
  separator: z
    .enum([",", ";", "|", "tab", "spaces", "characters"], {
      error: 'one of ",", ";", "|", tab, spaces, characters',
    })
    .default(","),
  decimal: z.enum([".", ","], { error: '"." or ","' }).default("."),
  encoding: z.enum(["utf-8", "utf-16le", "windows-1252"]).default("utf-8"),
  header: z
    .union([position, z.literal("none")], { error: "the header's line from 1, or none" })
    .default(1),
  firstRow: position.optional(),
  until: z.literal("blank", { error: "blank: rows end at the first empty line" }).optional(),
  comment: z.string().default(""),
});

const time = z.strictObject({
  from: z.preprocess(asList, z.array(place).min(1)),
  form: z.string().min(1),
  zone,
  clock: z.enum(["zone", "longitude"], { error: "zone or longitude" }).default("zone"),
  stands: z.enum(["begin", "middle", "end"], { error: "begin, middle or end" }).default("begin"),
  step: z.string().optional(),
  shift: cell.optional(),
  year: z.int().min(1900).max(2100).optional(),
});

export const mappingSchema = z.strictObject({
  version: z.literal(1, { error: "1" }),
  about: z.string().optional(),
  site: z.string().optional(),
  file: file.prefault({}),
  place: z.strictObject({ latitude: coordinate, longitude: coordinate }).optional(),
  time,
  missing: z.array(z.union([z.string(), z.number()])).default([]),
  outOfRange: z.enum(["refuse", "empty"], { error: "refuse or empty" }).default("refuse"),
  columns,
});

export type Mapping = z.infer<typeof mappingSchema>;
export type Place = z.infer<typeof place>;
export type Cell = z.infer<typeof cell>;
export type ColumnMapping = z.infer<typeof column>;

/** By the path of a map its keys, for "did you mean". */
export const MAPPING_KEYS: ReadonlyMap<string, readonly string[]> = new Map([
  ["", Object.keys(mappingSchema.shape)],
  ["file", Object.keys(file.shape)],
  ["time", Object.keys(time.shape)],
  ["place", ["latitude", "longitude"]],
  ["columns.*", Object.keys(column.shape)],
]);

/** `ghi_w_m2: Global` is short for `ghi_w_m2: { from: Global }`. */
function withFrom(value: unknown): unknown {
  if (typeof value !== "object" || value === null || Array.isArray(value)) return value;
  return Object.fromEntries(
    Object.entries(value).map(([name, entry]: readonly [string, unknown]) => {
      const isShort = typeof entry !== "object" || entry === null || Array.isArray(entry);
      return [name, isShort ? { from: entry } : entry];
    }),
  );
}

function asList(value: unknown): readonly unknown[] {
  const list: readonly unknown[] = Array.isArray(value) ? value : [value];
  return list;
}
