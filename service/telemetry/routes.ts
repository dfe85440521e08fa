/** Which feeds read a topic: found by name, and for wildcards once for each topic that speaks. */
import { hasWildcard, isCovered } from "../../config/topic-filters.ts";

/** Topics whose wildcards are remembered; strangers must not fill the memory. */
const REMEMBERED_MAX = 1_000;

export interface Routes<Reader> {
  /** To subscribe to; each once, in the order of the settings. */
  readonly filters: readonly string[];
  /** Empty for a topic that nothing reads. */
  readonly of: (topic: string) => readonly Reader[];
}

export function createRoutes<Reader>(
  readers: readonly { readonly filter: string; readonly reader: Reader }[],
): Routes<Reader> {
  const exact = new Map<string, Reader[]>();
  const wild = readers.filter(({ filter }) => hasWildcard(filter));
  for (const { filter, reader } of readers) {
    if (hasWildcard(filter)) continue;
    const already = exact.get(filter);
    if (already === undefined) exact.set(filter, [reader]);
    else already.push(reader);
  }
  const remembered = new Map<string, readonly Reader[]>();
  const none: readonly Reader[] = [];

  const match = (topic: string): readonly Reader[] => {
    const known = remembered.get(topic);
    if (known !== undefined) return known;
    const matching = wild.filter(({ filter }) => isCovered(topic, filter));
    const found = [...(exact.get(topic) ?? none), ...matching.map(({ reader }) => reader)];
    if (remembered.size >= REMEMBERED_MAX) remembered.clear();
    remembered.set(topic, found);
    return found;
  };

  return {
    filters: [...new Set(readers.map(({ filter }) => filter))],
    of: wild.length === 0 ? (topic) => exact.get(topic) ?? none : match,
  };
}
