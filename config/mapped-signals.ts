/** From one mapping of the file, whatever section it stands in, to a signal. */
import { decodeBoolean, decodeChargeStage, decodeNumber, rangeOf } from "./decodings.ts";
import { switchTable } from "./decodings.ts";
import type { Mapping } from "./decodings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import { SIGNALS } from "./signals.ts";
import type { SignalEntry, SignalKey } from "./signals.ts";
import type { Decoding, SignalSettings } from "./site-settings.ts";

export interface MappedSignal {
  readonly signal: SignalSettings;
  readonly path: SettingsPath;
}

export interface MappedSignals {
  readonly signals: readonly MappedSignal[];
  readonly findings: readonly Finding[];
}

export function merge(parts: readonly MappedSignals[]): MappedSignals {
  return {
    signals: parts.flatMap((part) => part.signals),
    findings: parts.flatMap((part) => part.findings),
  };
}

interface Place {
  readonly topic: string;
  readonly field?: string | undefined;
  readonly stale?: number | undefined;
}

export interface OwnedSignal {
  readonly key: SignalKey;
  readonly ownerId: string | null;
  readonly path: SettingsPath;
  readonly place: Place;
}

export function measured(owned: OwnedSignal, mapping: Mapping): MappedSignals {
  const entry: SignalEntry = SIGNALS[owned.key];
  if (entry.type === "number") {
    const { decoding, findings } = decodeNumber(entry, mapping, owned.path);
    const range = rangeOf(entry, mapping, owned.path);
    return mappedAs(owned, { decoding, range, findings: [...findings, ...range.findings] });
  }
  const decode = entry.type === "boolean" ? decodeBoolean : decodeChargeStage;
  const { decoding, findings } = decode(mapping, owned.path);
  return mappedAs(owned, { decoding, range: entry, findings });
}

interface Reading {
  readonly decoding: Decoding;
  readonly range: { readonly min: number; readonly max: number };
  readonly findings: readonly Finding[];
}

export function mappedAs(owned: OwnedSignal, reading: Reading): MappedSignals {
  const { key, ownerId, path, place } = owned;
  const signal: SignalSettings = {
    key,
    ownerId,
    topic: place.topic,
    field: place.field ?? null,
    decoding: reading.decoding,
    min: reading.range.min,
    max: reading.range.max,
    staleMs: place.stale ?? SIGNALS[key].staleMs,
  };
  return { signals: [{ signal, path }], findings: reading.findings };
}

interface Contact extends Place {
  readonly on?: string | undefined;
  readonly off?: string | undefined;
}

export function contact(owned: OwnedSignal, texts: Contact): MappedSignals {
  const { table, findings } = switchTable(texts, owned.path);
  const range = { min: 0, max: 1 };
  if (SIGNALS[owned.key].type === "number") {
    return mappedAs(owned, { decoding: { kind: "numberTable", table }, range, findings });
  }
  const entries = Object.entries(table).map(([text, on]) => [text, on === 1] as const);
  const decoding: Decoding = { kind: "booleanTable", table: Object.fromEntries(entries) };
  return mappedAs(owned, { decoding, range, findings });
}
