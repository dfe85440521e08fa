/** From one mapping of the file, whatever section it stands in, to a signal. */
import { switchTable } from "./decodings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import type { SignalSection } from "./schema.ts";
import type { PartSection } from "./schema-signals.ts";
import { SIGNALS } from "./signals.ts";
import type { SignalEntry, SignalKey } from "./signals.ts";
import type { Decoding, FeedSettings, SignalSettings } from "./site-settings.ts";
import { toPlainFeed, toSensors } from "./to-sensors.ts";
import type { MeasuredSignal, PlacedFeed } from "./to-sensors.ts";

export interface MappedSignal {
  readonly signal: SignalSettings;
  readonly path: SettingsPath;
  /** Every place where it may arrive. */
  readonly feeds: readonly PlacedFeed[];
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

export interface OwnedSignal {
  readonly key: SignalKey;
  readonly ownerId: string | null;
  readonly path: SettingsPath;
  /** Plausible where the file gives no range; without it the dictionary's. */
  readonly usual?: MeasuredSignal["usual"];
}

export function measured(owned: OwnedSignal, mapping: SignalSection): MappedSignals {
  const { key, ownerId, path } = owned;
  const entry: SignalEntry = SIGNALS[key];
  const { min, max } = owned.usual ?? entry;
  const mapped = toSensors({ key, entry, usual: { min, max } }, mapping, path);
  const { sensors, feeds, findings } = mapped;
  // What has no place at all is no signal; why is among the findings.
  const signals = feeds.length === 0 ? [] : [{ signal: { key, ownerId, sensors }, path, feeds }];
  return { signals, findings };
}

/** A contact or a stage: one place, and what its texts mean. */
type Place = Pick<PartSection, "topic" | "field" | "stamp" | "stale">;

interface Reading {
  readonly decoding: Decoding;
  readonly range: { readonly min: number; readonly max: number };
  readonly findings: readonly Finding[];
}

export function reported(owned: OwnedSignal, place: Place, reading: Reading): MappedSignals {
  const { key, ownerId, path } = owned;
  const plain = toPlainFeed(place, path);
  const { min, max } = reading.range;
  const feed: FeedSettings = {
    ...plain.feed,
    decoding: reading.decoding,
    min,
    max,
    staleMs: place.stale ?? SIGNALS[key].staleMs,
    maxChange: null,
    frozenMs: null,
    weight: 1,
  };
  const sensors = [{ combine: "alone" as const, feeds: [feed], min, max }];
  return {
    signals: [{ signal: { key, ownerId, sensors }, path, feeds: [{ feed, path }] }],
    findings: [...plain.findings, ...reading.findings],
  };
}

interface Contact extends Place {
  readonly on?: string | undefined;
  readonly off?: string | undefined;
}

export function contact(owned: OwnedSignal, texts: Contact): MappedSignals {
  const { table, findings } = switchTable(texts, owned.path);
  const range = { min: 0, max: 1 };
  if (SIGNALS[owned.key].type === "number") {
    return reported(owned, texts, { decoding: { kind: "numberTable", table }, range, findings });
  }
  const entries = Object.entries(table).map(([text, on]) => [text, on === 1] as const);
  const decoding: Decoding = { kind: "booleanTable", table: Object.fromEntries(entries) };
  return reported(owned, texts, { decoding, range, findings });
}
