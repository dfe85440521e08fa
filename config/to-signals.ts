/**
 * Every signal that the file maps, in one list: those under `telemetry`, and those that stand at
 * the load or panel they belong to (report, meter, byHand, tank.sensor).
 */
import { decodeBoolean, decodeChargeStage, decodeNumber, rangeOf } from "./decodings.ts";
import { switchTable } from "./decodings.ts";
import type { Mapping } from "./decodings.ts";
import { errorAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import type { PartialFile } from "./partial-file.ts";
import type { LoadSection, PanelSection, SignalSection } from "./schema.ts";
import { SIGNALS } from "./signals.ts";
import type { SignalEntry, SignalKey } from "./signals.ts";
import type { Decoding, SignalSettings } from "./site-settings.ts";
import { nearestWord } from "./suggestions.ts";

export interface MappedSignal {
  readonly signal: SignalSettings;
  readonly path: SettingsPath;
}

export interface MappedSignals {
  readonly signals: readonly MappedSignal[];
  readonly findings: readonly Finding[];
}

export function mapSignals(file: PartialFile): MappedSignals {
  const parts: MappedSignals[] = [];
  for (const [name, mapping] of file.telemetry) parts.push(telemetrySignal(file, name, mapping));
  for (const [index, panel] of file.panels.entries()) {
    if (panel !== undefined) parts.push(panelSignals(panel, ["panels", index]));
  }
  for (const [index, load] of file.loads.entries()) {
    if (load !== undefined) parts.push(loadSignals(load, ["loads", index]));
  }
  return merge(parts);
}

function merge(parts: readonly MappedSignals[]): MappedSignals {
  return {
    signals: parts.flatMap((part) => part.signals),
    findings: parts.flatMap((part) => part.findings),
  };
}

function telemetrySignal(
  file: PartialFile,
  name: string,
  mapping: SignalSection | undefined,
): MappedSignals {
  const path = ["telemetry", name];
  const found = resolveName(file, name);
  if (found === undefined) return { signals: [], findings: [unknownSignal(file, name)] };
  if (mapping === undefined) return { signals: [], findings: [] };
  const owned = { key: found.key, ownerId: found.ownerId, path, place: mapping };
  const mapped = measured(owned, mapping);
  if (mapping.positive === undefined || found.key === "battery.current") {
    return narrowed(file, mapped, mapping);
  }
  const misfit = errorAt([...path, "positive"], "key-does-not-fit", {
    expected: "positive only at battery.current",
    isAboutKey: true,
  });
  return merge([mapped, { signals: [], findings: [misfit] }]);
}

/**
 * A battery cannot be at half or one and a half times its nominal voltage; a reading there is a
 * loose wire or another battery. Common practice, no source.
 */
function narrowed(file: PartialFile, mapped: MappedSignals, mapping: SignalSection): MappedSignals {
  const nominalV = file.battery?.nominalVoltage;
  if (nominalV === undefined || mapping.range !== undefined) return mapped;
  const signals = mapped.signals.map(({ signal, path }) =>
    signal.key === "battery.voltage"
      ? { path, signal: { ...signal, min: 0.5 * nominalV, max: 1.5 * nominalV } }
      : { path, signal },
  );
  return { ...mapped, signals };
}

interface ResolvedName {
  readonly key: SignalKey;
  readonly ownerId: string | null;
}

interface PossibleName extends ResolvedName {
  readonly name: string;
}

const SOURCE_LISTS = { array: "arrays", hydro: "hydro", wind: "wind" } as const;

function resolveName(file: PartialFile, name: string): ResolvedName | undefined {
  return possibleNames(file).find((possible) => possible.name === name);
}

/** All names that `telemetry` may hold at this site. */
function possibleNames(file: PartialFile): readonly PossibleName[] {
  return signalKeys().flatMap((key): readonly PossibleName[] => {
    const [kind = ""] = key.split(".");
    if (!key.includes("{id}")) return [{ name: key, key, ownerId: null }];
    return ownersOf(file, kind)
      .filter((owner) => owner !== undefined)
      .map(({ id }) => ({ name: key.replace("{id}", id), key, ownerId: id }));
  });
}

/** Loads and panels have their signals beside them. */
function ownersOf(file: PartialFile, kind: string): readonly ({ id: string } | undefined)[] {
  if (kind === "array" || kind === "hydro" || kind === "wind") return file[SOURCE_LISTS[kind]];
  return kind === "leg" ? (file.inverter?.legs ?? []) : [];
}

function signalKeys(): readonly SignalKey[] {
  return Object.keys(SIGNALS).filter((key): key is SignalKey => key in SIGNALS);
}

function unknownSignal(file: PartialFile, name: string): Finding {
  const path = ["telemetry", name];
  const [kind = ""] = name.split(".");
  if (kind === "load" || kind === "panel") {
    return errorAt(path, "unknown-signal", {
      expected: "signals of battery, sources and inverter",
      suggestion: `give it at the ${kind} itself, as report or meter`,
      isAboutKey: true,
    });
  }
  const names = possibleNames(file).map((possible) => possible.name);
  const near = nearestWord(name, names);
  return errorAt(path, "unknown-signal", {
    expected: `one of ${names.join(", ")}`,
    ...(near === undefined ? {} : { suggestion: `did you mean ${near}?` }),
    isAboutKey: true,
  });
}

interface Place {
  readonly topic: string;
  readonly field?: string | undefined;
  readonly stale?: number | undefined;
}

interface OwnedSignal {
  readonly key: SignalKey;
  readonly ownerId: string | null;
  readonly path: SettingsPath;
  readonly place: Place;
}

function measured(owned: OwnedSignal, mapping: Mapping): MappedSignals {
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

function mappedAs(owned: OwnedSignal, reading: Reading): MappedSignals {
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

function contact(owned: OwnedSignal, texts: Contact): MappedSignals {
  const { table, findings } = switchTable(texts, owned.path);
  const range = { min: 0, max: 1 };
  if (SIGNALS[owned.key].type === "number") {
    return mappedAs(owned, { decoding: { kind: "numberTable", table }, range, findings });
  }
  const entries = Object.entries(table).map(([text, on]) => [text, on === 1] as const);
  const decoding: Decoding = { kind: "booleanTable", table: Object.fromEntries(entries) };
  return mappedAs(owned, { decoding, range, findings });
}

function panelSignals(panel: PanelSection, path: SettingsPath): MappedSignals {
  const parts: MappedSignals[] = [];
  const { report } = panel.contactor;
  const own = { ownerId: panel.id };
  if (report !== undefined) {
    const at = [...path, "contactor", "report"];
    parts.push(contact({ ...own, key: "panel.{id}.report", path: at, place: report }, report));
  }
  if (panel.meter !== undefined) {
    const owned = { ...own, path: [...path, "meter"], place: panel.meter };
    parts.push(measured({ ...owned, key: "panel.{id}.power" }, panel.meter));
  }
  return merge(parts);
}

function loadSignals(load: LoadSection, path: SettingsPath): MappedSignals {
  const parts: MappedSignals[] = [];
  const own = { ownerId: load.id };
  if (load.report !== undefined) parts.push(loadReport(load, path));
  if (load.meter !== undefined) {
    const owned = { ...own, path: [...path, "meter"], place: load.meter };
    parts.push(measured({ ...owned, key: "load.{id}.power" }, load.meter));
  }
  if (load.byHand !== undefined) {
    const owned = { ...own, path: [...path, "byHand"], place: load.byHand };
    parts.push(contact({ ...owned, key: "load.{id}.byHand" }, load.byHand));
  }
  if (load.tank !== undefined) {
    const owned = { ...own, path: [...path, "tank", "sensor"], place: load.tank.sensor };
    parts.push(measured({ ...owned, key: "load.{id}.tankTemperature" }, load.tank.sensor));
  }
  return merge(parts);
}

function loadReport(load: LoadSection, path: SettingsPath): MappedSignals {
  const at = [...path, "report"];
  const key = "load.{id}.report";
  if (load.kind === "switched") {
    if (load.report === undefined) return merge([]);
    return contact({ key, ownerId: load.id, path: at, place: load.report }, load.report);
  }
  if (load.report === undefined) return merge([]);
  const { values } = load.report;
  const highest = load.stages.length;
  const range = { min: 0, max: highest };
  const decoding: Decoding =
    values === undefined
      ? { kind: "number", scale: 1, offset: 0 }
      : { kind: "numberTable", table: values };
  const findings = Object.entries(values ?? {})
    .filter(([, stage]) => stage > highest)
    .map(([text]) =>
      errorAt([...at, "values", text], "out-of-range", {
        expected: `a stage from 0 (off) to ${String(highest)}`,
      }),
    );
  const owned = { key, ownerId: load.id, path: at, place: load.report } as const;
  return mappedAs(owned, { decoding, range, findings });
}
