/** Rules between keys: what each key alone may say, but not together with another. */
import type { Finding } from "./findings.ts";
import type { MappedSignal } from "./to-signals.ts";
import type { PartialFile } from "./partial-file.ts";

export function crossChecks(
  _file: PartialFile,
  _signals: readonly MappedSignal[],
): readonly Finding[] {
  return [];
}
