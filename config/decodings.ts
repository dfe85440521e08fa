/** How a mapped payload becomes a value in SI units, from the unit and the texts of the file. */
import { errorAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import { parseQuantity, unitScale, unitSymbols } from "./quantities.ts";
import type { Dimension } from "./units.ts";
import type { PartSection } from "./schema-signals.ts";
import type { SignalEntry } from "./signals.ts";
import type { Decoding, FeedSettings } from "./site-settings.ts";
import { nearestWord } from "./suggestions.ts";

/** The keys that say how a value is read; which of them fit depends on the signal. */
export type Mapping = Partial<Omit<PartSection, "topic">>;

export interface Decoded {
  readonly decoding: Decoding;
  readonly findings: readonly Finding[];
}

export interface PublisherUnit {
  readonly scale: number;
  readonly offset: number;
}

/** Besides the units of the settings; zero points of the scales are exact by definition. */
const TEMPERATURE_UNITS: ReadonlyMap<string, PublisherUnit> = new Map(
  Object.entries({
    K: { scale: 1, offset: -273.15 },
    "°F": { scale: 5 / 9, offset: -160 / 9 },
    F: { scale: 5 / 9, offset: -160 / 9 },
  }),
);

export function decodeNumber(entry: SignalEntry, mapping: Mapping, path: SettingsPath): Decoded {
  const findings: Finding[] = [];
  if (mapping.values !== undefined) {
    findings.push(
      errorAt([...path, "values"], "key-does-not-fit", {
        expected: "values only for signals that are on/off or a stage",
        isAboutKey: true,
      }),
    );
  }
  const raw = mapping.scale ?? 1;
  if (raw === 0) findings.push(errorAt([...path, "scale"], "out-of-range", { expected: "not 0" }));
  const unit = publisherUnit(entry.dimension, mapping.unit, path);
  if ("severity" in unit) findings.push(unit);
  const { scale, offset } = "severity" in unit ? { scale: 1, offset: 0 } : unit;
  const sign = mapping.positive === "discharging" ? -1 : 1;
  return { decoding: { kind: "number", scale: sign * raw * scale, offset }, findings };
}

function publisherUnit(
  dimension: SignalEntry["dimension"],
  written: string | undefined,
  path: SettingsPath,
): PublisherUnit | Finding {
  const at = [...path, "unit"];
  if (dimension === null || dimension === "count") {
    if (written === undefined) return { scale: 1, offset: 0 };
    return errorAt(at, "key-does-not-fit", { expected: "no unit here", isAboutKey: true });
  }
  const known = publisherUnits(dimension);
  if (written === undefined) {
    return errorAt(at, "missing-key", {
      found: "nothing",
      expected: `the unit in which it is sent: ${known.join(", ")}`,
      suggestion: `unit: ${JSON.stringify(known.at(-1))}`,
    });
  }
  if (dimension === "fraction" && written === "1") return { scale: 1, offset: 0 };
  const scale = unitScale(written, dimension);
  if (scale !== undefined) return { scale, offset: 0 };
  const special = dimension === "temperature" ? TEMPERATURE_UNITS.get(written) : undefined;
  if (special !== undefined) return special;
  const near = nearestWord(written, known);
  return errorAt(at, "wrong-unit", {
    expected: `one of ${known.join(", ")}`,
    ...(near === undefined ? {} : { suggestion: `did you mean ${near}?` }),
  });
}

function publisherUnits(dimension: Dimension): readonly string[] {
  const own = unitSymbols(dimension);
  if (dimension === "fraction") return ["1", ...own];
  return dimension === "temperature" ? [...own, ...TEMPERATURE_UNITS.keys()] : own;
}

/** All in which a number of this dimension may be sent: SI value = number × scale + offset. */
export function publisherUnitTable(dimension: Dimension): ReadonlyMap<string, PublisherUnit> {
  const table = new Map<string, PublisherUnit>();
  for (const symbol of publisherUnits(dimension)) {
    const scale = symbol === "1" ? 1 : unitScale(symbol, dimension);
    const special = TEMPERATURE_UNITS.get(symbol);
    if (scale !== undefined) table.set(symbol, { scale, offset: 0 });
    else if (special !== undefined) table.set(symbol, special);
  }
  return table;
}

/** Texts that mean on and off where the file names none. */
const SWITCH_TEXTS = { "0": 0, "1": 1, off: 0, on: 1, OFF: 0, ON: 1, false: 0, true: 1 } as const;

export function decodeBoolean(mapping: Mapping, path: SettingsPath): Decoded {
  const findings = keysThatDoNotFit(mapping, path);
  const given = mapping.values;
  if (given === undefined) {
    const entries = Object.entries(SWITCH_TEXTS).map(([text, on]) => [text, on === 1] as const);
    return { decoding: { kind: "booleanTable", table: Object.fromEntries(entries) }, findings };
  }
  const table: Record<string, boolean> = {};
  for (const [text, value] of Object.entries(given)) {
    if (typeof value === "boolean") table[text] = value;
    else findings.push(wrongValue(path, text, "true or false"));
  }
  const meanings = Object.values(table);
  const isRead = meanings.length === Object.keys(given).length;
  if (isRead && (!meanings.includes(true) || !meanings.includes(false))) {
    findings.push(
      errorAt([...path, "values"], "values-incomplete", {
        expected: "at least one text that means true and one that means false",
      }),
    );
  }
  return { decoding: { kind: "booleanTable", table }, findings };
}

const STAGES = ["bulk", "absorption", "float", "equalise"] as const;

export function decodeChargeStage(mapping: Mapping, path: SettingsPath): Decoded {
  const findings = keysThatDoNotFit(mapping, path);
  const given = mapping.values ?? Object.fromEntries(STAGES.map((stage) => [stage, stage]));
  const table: Record<string, (typeof STAGES)[number]> = {};
  for (const [text, value] of Object.entries(given)) {
    const stage = STAGES.find((known) => known === value);
    if (stage === undefined) findings.push(wrongValue(path, text, `one of ${STAGES.join(", ")}`));
    else table[text] = stage;
  }
  return { decoding: { kind: "stageTable", table }, findings };
}

function keysThatDoNotFit(mapping: Mapping, path: SettingsPath): Finding[] {
  const keys = ["unit", "scale", "range", "maxChange", "frozen"] as const;
  return keys
    .filter((key) => mapping[key] !== undefined)
    .map((key) =>
      errorAt([...path, key], "key-does-not-fit", {
        expected: "only for signals that are numbers",
        isAboutKey: true,
      }),
    );
}

function wrongValue(path: SettingsPath, text: string, expected: string): Finding {
  return errorAt([...path, "values", text], "unknown-value", { expected });
}

interface SwitchTexts {
  readonly on?: string | undefined;
  readonly off?: string | undefined;
}

/** Table of a contact's two positions; the file gives both texts or neither. */
export function switchTable(
  texts: SwitchTexts,
  path: SettingsPath,
): { readonly table: Readonly<Record<string, 0 | 1>>; readonly findings: readonly Finding[] } {
  const { on, off } = texts;
  if (on === undefined && off === undefined) return { table: SWITCH_TEXTS, findings: [] };
  if (on === undefined || off === undefined) {
    const missing = on === undefined ? "on" : "off";
    const expected = "both on and off, or neither";
    return {
      table: SWITCH_TEXTS,
      findings: [errorAt([...path, missing], "missing-key", { found: "nothing", expected })],
    };
  }
  const isSame = on === off;
  const finding = errorAt([...path, "off"], "texts-alike", { expected: "another text than on" });
  return { table: { [off]: 0, [on]: 1 }, findings: isSame ? [finding] : [] };
}

export interface PlausibleRange {
  readonly min: number;
  readonly max: number;
  readonly findings: readonly Finding[];
}

/** The fastest change to believe, in SI units. */
export function maxChangeOf(
  entry: SignalEntry,
  mapping: Mapping,
  path: SettingsPath,
): { readonly maxChange: FeedSettings["maxChange"]; readonly findings: readonly Finding[] } {
  const written = mapping.maxChange;
  if (written === undefined) return { maxChange: null, findings: [] };
  const at = [...path, "maxChange", "by"];
  const dimension = entry.dimension === "temperature" ? "temperatureDifference" : entry.dimension;
  const by = boundOf(dimension, written.by);
  if (typeof by !== "number") return { maxChange: null, findings: [errorAt(at, "wrong-unit", by)] };
  if (by > 0) return { maxChange: { by, inMs: written.in }, findings: [] };
  return { maxChange: null, findings: [errorAt(at, "out-of-range", { expected: "more than 0" })] };
}

/** The dictionary's range, narrowed by the file's. */
export function rangeOf(entry: SignalEntry, mapping: Mapping, path: SettingsPath): PlausibleRange {
  const findings: Finding[] = [];
  const side = (key: "min" | "max"): number => {
    const written = mapping.range?.[key];
    if (written === undefined) return entry[key];
    const at = [...path, "range", key];
    const value = boundOf(entry.dimension, written);
    if (typeof value !== "number") {
      findings.push(errorAt(at, "wrong-unit", value));
      return entry[key];
    }
    if (value < entry.min || value > entry.max) {
      const expected = `a narrower range than ${String(entry.min)} … ${String(entry.max)} (SI)`;
      findings.push(errorAt(at, "out-of-range", { expected }));
    }
    return value;
  };
  const [min, max] = [side("min"), side("max")];
  if (min >= max && findings.length === 0) {
    findings.push(errorAt([...path, "range"], "out-of-range", { expected: "min below max" }));
  }
  return { min, max, findings };
}

function boundOf(
  dimension: Dimension | "count" | null,
  written: string | number,
): number | { expected: string; suggestion?: string } {
  if (dimension === null || dimension === "count") {
    const value = Number(written);
    return Number.isFinite(value) ? value : { expected: "a number" };
  }
  const parsed = parseQuantity(written, dimension);
  if (parsed.ok) return parsed.value;
  const { expected, suggestion } = parsed.problem;
  return { expected, ...(suggestion === undefined ? {} : { suggestion }) };
}
