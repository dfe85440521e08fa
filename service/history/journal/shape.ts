/**
 * Plain data as a shape and the row of its leaves, so that ticks of one shape can be written as
 * columns. It knows nothing of what an observation contains: a new field is a new leaf.
 */
import { DamagedBytes } from "./bytes.ts";

export type Leaf = number | boolean | string | null | undefined;

export interface Flat {
  /** JSON of the same form with 0 in place of each leaf. */
  readonly shape: string;
  readonly leaves: readonly Leaf[];
}

/** @throws TypeError for what is no plain data. */
export function flatten(value: unknown): Flat {
  const leaves: Leaf[] = [];
  return { shape: shapeOf(value, leaves), leaves };
}

function shapeOf(value: unknown, leaves: Leaf[]): string {
  switch (typeof value) {
    case "number":
    case "boolean":
    case "string":
    case "undefined":
      leaves.push(value);
      return "0";
    case "object": {
      if (value === null) {
        leaves.push(value);
        return "0";
      }
      if (Array.isArray(value)) return `[${value.map((item) => shapeOf(item, leaves)).join(",")}]`;
      const fields = Object.entries(value).map(
        ([key, field]) => `${JSON.stringify(key)}:${shapeOf(field, leaves)}`,
      );
      return `{${fields.join(",")}}`;
    }
    default:
      throw new TypeError(`a ${typeof value} is no plain data`);
  }
}

/** @returns A function that makes the data of this shape from a row of leaves. */
export function builderOf(shape: string): (leaves: readonly Leaf[]) => unknown {
  const parsed: unknown = JSON.parse(shape);
  return (leaves) => {
    let next = 0;
    const build = (part: unknown): unknown => {
      if (Array.isArray(part)) return part.map(build);
      if (typeof part === "object" && part !== null) {
        return Object.fromEntries(Object.entries(part).map(([key, field]) => [key, build(field)]));
      }
      if (next >= leaves.length) throw new DamagedBytes("fewer values than the shape has places");
      return leaves[next++];
    };
    return build(parsed);
  };
}

/** Place of a leaf directly under the root; null if there is none of this name. */
export function leafIndex(shape: string, name: string): number | null {
  const parsed: unknown = JSON.parse(shape);
  if (typeof parsed !== "object" || parsed === null) return null;
  let place = 0;
  for (const [key, field] of Object.entries(parsed)) {
    if (key === name) return field === 0 ? place : null;
    place += leafCount(field);
  }
  return null;
}

export function leafCount(part: unknown): number {
  if (typeof part !== "object" || part === null) return 1;
  return Object.values(part).reduce<number>((sum, field) => sum + leafCount(field), 0);
}
