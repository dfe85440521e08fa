/** The names that a file gives its parts, also where the rest of a part cannot be read. */
import { isId } from "./fields.ts";
import type { SettingsPath } from "./findings.ts";
import { valueAt } from "./schema-issues.ts";

export interface GivenNames {
  readonly ids: readonly string[];
  /** A name cannot be read, or the whole list: any name may be one of them. */
  readonly isOpen: boolean;
}

/** @param knownKeys - What may stand beside the list. */
export function givenNames(
  raw: unknown,
  path: SettingsPath,
  knownKeys: readonly string[],
): GivenNames {
  if (!isGiven(raw, path, knownKeys)) return { ids: [], isOpen: false };
  const list = valueAt(raw, path);
  if (!Array.isArray(list)) return { ids: [], isOpen: true };
  const ids = list
    .map((entry: unknown) => valueAt(entry, ["id"]))
    .filter((id): id is string => typeof id === "string" && isId(id));
  return { ids, isOpen: ids.length < list.length };
}

/** What is not there may stand under a key that is misspelt. */
function isGiven(raw: unknown, path: SettingsPath, knownKeys: readonly string[]): boolean {
  if (valueAt(raw, path) !== undefined) return true;
  const parent = valueAt(raw, path.slice(0, -1));
  if (typeof parent !== "object" || parent === null) return true;
  return Object.keys(parent).some((key) => !knownKeys.includes(key));
}
