/**
 * From the mapping of one signal to its sensors: the one that is read, and those that replace it,
 * each of one feed or of several that are combined.
 */
import { decodeBoolean, decodeChargeStage, decodeNumber } from "./decodings.ts";
import { maxChangeOf, rangeOf } from "./decodings.ts";
import type { Mapping } from "./decodings.ts";
import { errorAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import type { SignalSection } from "./schema.ts";
import type { PartSection } from "./schema-signals.ts";
import type { SignalEntry, SignalKey } from "./signals.ts";
import type { Decoding, FeedSettings, SensorSettings } from "./site-settings.ts";

/** A feed, and where in the file it stands. */
export interface PlacedFeed {
  readonly feed: FeedSettings;
  readonly path: SettingsPath;
}

export interface MappedSensors {
  readonly sensors: readonly SensorSettings[];
  readonly feeds: readonly PlacedFeed[];
  readonly findings: readonly Finding[];
}

export interface MeasuredSignal {
  readonly key: SignalKey;
  /** Of the dictionary. */
  readonly entry: SignalEntry;
  /** Plausible where the file gives no range of its own. */
  readonly usual: { readonly min: number; readonly max: number };
}

type SensorSection = Omit<SignalSection, "fallback">;

export function toSensors(
  signal: MeasuredSignal,
  mapping: SignalSection,
  path: SettingsPath,
): MappedSensors {
  const { fallback = [], ...first } = mapping;
  const mapped = [
    toSensor(signal, first, path),
    ...fallback.map((one, index) => toSensor(signal, one, [...path, "fallback", index])),
  ];
  return joined(mapped);
}

export function joined(mapped: readonly MappedSensors[]): MappedSensors {
  return {
    sensors: mapped.flatMap(({ sensors }) => sensors),
    feeds: mapped.flatMap(({ feeds }) => feeds),
    findings: mapped.flatMap(({ findings }) => findings),
  };
}

function toSensor(
  signal: MeasuredSignal,
  mapping: SensorSection,
  path: SettingsPath,
): MappedSensors {
  const { combine, of, topic, ...how } = mapping;
  if (combine !== undefined || of !== undefined) return combined(signal, mapping, path);
  if (topic === undefined) {
    const expected = "a topic; or combine and of";
    const finding = errorAt([...path, "topic"], "missing-key", { found: "nothing", expected });
    return { sensors: [], feeds: [], findings: [finding] };
  }
  const { feed, findings } = toFeed(signal, { ...how, topic }, path);
  const sensor = { combine: "alone" as const, feeds: [feed], ...signal.usual };
  // A range that the file gives may be wider than the usual one.
  const range = { min: Math.min(sensor.min, feed.min), max: Math.max(sensor.max, feed.max) };
  return { sensors: [{ ...sensor, ...range }], feeds: [{ feed, path }], findings };
}

function combined(
  signal: MeasuredSignal,
  mapping: SensorSection,
  path: SettingsPath,
): MappedSensors {
  const { combine, of, ...how } = mapping;
  const findings: Finding[] = Object.entries(how)
    .filter(([, value]) => value !== undefined)
    .map(([key]) =>
      errorAt([...path, key], "key-does-not-fit", {
        expected: "beside combine and of no more than fallback; each part says how it is read",
        isAboutKey: true,
      }),
    );
  if (combine === undefined || of === undefined) {
    const missing = combine === undefined ? "combine" : "of";
    const expected = "both combine and of, or neither";
    findings.push(errorAt([...path, missing], "missing-key", { found: "nothing", expected }));
    return { sensors: [], feeds: [], findings };
  }
  const misfit = combineMisfit(combine, signal.entry);
  if (misfit !== null) {
    findings.push(errorAt([...path, "combine"], "combine-does-not-fit", { expected: misfit }));
  }
  const parts = of.map((part, index) => {
    const at = [...path, "of", index];
    if (part.weight !== undefined && combine !== "mean") findings.push(weightMisfit(at));
    return { ...toFeed(signal, part, at), path: at };
  });
  return {
    sensors: [{ combine, feeds: parts.map(({ feed }) => feed), ...signal.usual }],
    feeds: parts,
    findings: [...findings, ...parts.flatMap((part) => part.findings)],
  };
}

function weightMisfit(path: SettingsPath): Finding {
  return errorAt([...path, "weight"], "key-does-not-fit", {
    expected: "a weight only where combine is mean",
    isAboutKey: true,
  });
}

/** Two batteries of 50 V side by side are no battery of 100 V. */
const ADDITIVE: ReadonlySet<string | null> = new Set(["power", "current", "flow"]);

function combineMisfit(
  combine: NonNullable<SignalSection["combine"]>,
  entry: SignalEntry,
): string | null {
  if (entry.type !== "number") return "no combine here: only numbers can be combined";
  if (combine !== "sum" || ADDITIVE.has(entry.dimension)) return null;
  return "mean, lowest or highest: only powers, currents and flows can be added up";
}

function toFeed(
  signal: MeasuredSignal,
  part: PartSection,
  path: SettingsPath,
): { readonly feed: FeedSettings; readonly findings: readonly Finding[] } {
  const { entry, usual } = signal;
  const { decoding, findings } = decodingOf(entry, part, path);
  const range = entry.type === "number" ? rangeOf(entry, part, path) : { ...usual, findings: [] };
  const { min, max } = part.range === undefined ? usual : range;
  const change = entry.type === "number" ? maxChangeOf(entry, part, path) : NO_CHANGE;
  const plain = toPlainFeed(part, path);
  return {
    feed: {
      ...plain.feed,
      decoding,
      min,
      max,
      staleMs: part.stale ?? entry.staleMs,
      maxChange: change.maxChange,
      frozenMs: part.frozen ?? null,
      weight: part.weight ?? 1,
    },
    findings: [
      ...findings,
      ...range.findings,
      ...change.findings,
      ...plain.findings,
      ...positiveMisfit(signal, part, path),
    ],
  };
}

const NO_CHANGE = { maxChange: null, findings: [] };

function decodingOf(
  entry: SignalEntry,
  mapping: Mapping,
  path: SettingsPath,
): { readonly decoding: Decoding; readonly findings: readonly Finding[] } {
  if (entry.type === "number") return decodeNumber(entry, mapping, path);
  return entry.type === "boolean" ? decodeBoolean(mapping, path) : decodeChargeStage(mapping, path);
}

function positiveMisfit(
  { key }: MeasuredSignal,
  { positive }: Mapping,
  path: SettingsPath,
): readonly Finding[] {
  if (positive === undefined || key === "battery.current") return [];
  return [
    errorAt([...path, "positive"], "key-does-not-fit", {
      expected: "positive only at battery.current",
      isAboutKey: true,
    }),
  ];
}

/** Where a value arrives, and when the publisher took it. */
export function toPlainFeed(
  place: Pick<PartSection, "topic" | "field" | "stamp">,
  path: SettingsPath,
): {
  readonly feed: Pick<FeedSettings, "topic" | "field" | "stamp">;
  readonly findings: readonly Finding[];
} {
  const { topic, stamp } = place;
  const field = place.field ?? null;
  const isMisfit = stamp !== undefined && field === null;
  const expected = "a stamp only with field: a payload that is the value has no room for a time";
  return {
    feed: {
      topic,
      field,
      stamp:
        stamp === undefined
          ? null
          : { field: stamp.field, form: stamp.form, aheadMaxMs: stamp.ahead },
    },
    findings: isMisfit
      ? [errorAt([...path, "stamp"], "key-does-not-fit", { expected, isAboutKey: true })]
      : [],
  };
}
