/** The names that `telemetry` may hold at a site, and which of them it maps. */
import type { PartialFile } from "./partial-file.ts";
import { SIGNALS } from "./signals.ts";
import type { SignalKey } from "./signals.ts";

export interface ResolvedName {
  readonly key: SignalKey;
  readonly ownerId: string | null;
}

interface PossibleName extends ResolvedName {
  readonly name: string;
}

export function resolveName(file: PartialFile, name: string): ResolvedName | undefined {
  return possibleNames(file).find((possible) => possible.name === name);
}

export function possibleNames(file: PartialFile): readonly PossibleName[] {
  return signalKeys().flatMap((key): readonly PossibleName[] => {
    const [kind = ""] = key.split(".");
    if (!key.includes("{id}")) return [{ name: key, key, ownerId: null }];
    const ids = ownersOf(file, kind)?.ids ?? [];
    return ids.map((id) => ({ name: key.replace("{id}", id), key, ownerId: id }));
  });
}

/** Whether the name is unknown only because its owner's own name could not be read. */
export function mayBeMeant(file: PartialFile, name: string): boolean {
  const [kind = "", , part = ""] = name.split(".");
  return ownersOf(file, kind)?.isOpen === true && Object.hasOwn(SIGNALS, `${kind}.{id}.${part}`);
}

/**
 * Whether `telemetry` maps the signal, or may be meant to: what cannot be read, or is called by a
 * name that is unknown, is told as such, and not a second time by what misses it.
 */
export function mayBeMapped(file: PartialFile, name: string): boolean {
  if (file.telemetry.has(name) || !file.isTelemetryRead) return true;
  return [...file.telemetry.keys()].some((given) => resolveName(file, given) === undefined);
}

const SOURCE_LISTS = { array: "arrays", hydro: "hydro", wind: "wind", leg: "legs" } as const;

/** Loads and panels have their signals beside them. */
function ownersOf(file: PartialFile, kind: string): PartialFile["names"]["arrays"] | undefined {
  const isOwner = kind === "array" || kind === "hydro" || kind === "wind" || kind === "leg";
  return isOwner ? file.names[SOURCE_LISTS[kind]] : undefined;
}

function signalKeys(): readonly SignalKey[] {
  return Object.keys(SIGNALS).filter((key): key is SignalKey => key in SIGNALS);
}
