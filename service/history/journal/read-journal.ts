/** What the journal holds, as far as it is whole. */
import { readFileSync } from "node:fs";
import { MEMORY_VERSION } from "../../control/memory.ts";
import type { LoadMemory } from "../../control/memory.ts";
import type { Observation } from "../../control/observation.ts";
import { unpack, unpackRows } from "./block.ts";
import { DamagedBytes } from "./bytes.ts";
import type { Decided } from "./decided.ts";
import { FRAME, frameAt, SEGMENT_HEAD } from "./frame.ts";
import type { FrameKind } from "./frame.ts";
import type { JournalStart } from "./journal.ts";
import { listSegments } from "./segments.ts";

export type JournalEntry =
  /** Ticks up to the next start are to be worked out from this memory with these settings. */
  | { readonly kind: "start"; readonly start: JournalStart }
  | { readonly kind: "tick"; readonly observation: Observation; readonly decided: Decided }
  /** The rest of this segment cannot be read; after a crash that is the last block. */
  | {
      readonly kind: "damage";
      readonly path: string;
      readonly atByte: number;
      /** `other-version`: whole, but its memory is of a core that this one does not understand. */
      readonly reason: "not-whole" | "other-version";
    };

/** @param day - Local date, `2026-06-15`. @throws Error of the file system */
export function* readJournalDay(folder: string, day: string): Generator<JournalEntry> {
  for (const segment of listSegments(folder)) {
    if (segment.day === day) yield* readSegment(segment.path);
  }
}

/** @throws Error of the file system */
export function* readSegment(path: string): Generator<JournalEntry> {
  const data = readFileSync(path);
  let at = SEGMENT_HEAD.length;
  if (!data.subarray(0, at).equals(SEGMENT_HEAD)) {
    yield { kind: "damage", path, atByte: 0, reason: "not-whole" };
    return;
  }
  let shape = "0";
  while (at < data.length) {
    const frame = frameAt(data, at);
    const entries = frame === null ? null : entriesOf(frame.kind, frame.content, shape);
    if (frame === null || entries === null) {
      const reason = frame?.kind === FRAME.start ? "other-version" : "not-whole";
      yield { kind: "damage", path, atByte: at, reason };
      return;
    }
    if (frame.kind === FRAME.shape) shape = Buffer.from(unpack(frame.content)).toString("utf8");
    yield* entries;
    at = frame.end;
  }
}

/** @returns null if the frame is sound but does not hold what it should. */
function entriesOf(kind: FrameKind, content: Uint8Array, shape: string): JournalEntry[] | null {
  if (kind === FRAME.shape) return [];
  try {
    const rows = unpackRows(content, shape);
    const entries: JournalEntry[] = [];
    for (const row of rows) {
      if (kind === FRAME.start && isStart(row)) {
        entries.push({ kind: "start", start: withNewFields(row) });
      }
      if (kind === FRAME.block && isTick(row)) {
        const { decided, ...observation } = row;
        entries.push({ kind: "tick", observation: withNewSignals(observation), decided });
      }
    }
    return entries.length === rows.length ? entries : null;
  } catch (error) {
    if (error instanceof DamagedBytes) return null;
    throw error;
  }
}

const UNMAPPED = { value: 0, quality: "unmapped", ageMs: 0 } as const;
const NO_SENSOR = { sensorFactor: 1, sensorSeenMs: 0, sensorSpread: 0.1 };
const NO_LOSSES = { lossFactor: 1, lostFraction: null };
const NO_FORECAST = { todayWh: UNMAPPED, tomorrowWh: UNMAPPED };
const OBSERVED = [
  "monotonicMs",
  "wallMs",
  "localDay",
  "battery",
  "inverter",
  "loads",
  "panels",
] as const;
const DECIDED = ["sum", "loadStages", "loadCodes", "panelsClosed", "panelCodes"] as const;

/** The CRC says that it is what was written; this says that it was written as one. */
function isTick(row: unknown): row is Observation & { readonly decided: Decided } {
  return has(row, OBSERVED) && has(row, ["decided"]) && has(row.decided, DECIDED);
}

function isStart(row: unknown): row is JournalStart {
  if (!has(row, ["codeVersion", "settingsHash", "settings", "memory"])) return false;
  return has(row.memory, ["version"]) && row.memory.version === MEMORY_VERSION;
}

/** Before loads could be asked for, had deadlines or kept steps, there was none of it. */
function withNewFields(start: JournalStart): JournalStart {
  const { memory } = start;
  const loads = memory.loads.map((load) => ({
    ...load,
    asked: load.asked ?? null,
    draw: withSteps(load),
  }));
  const { settings } = start;
  const loadSettings = settings.loads.map((load) =>
    Object.hasOwn(load, "deadline") ? load : { ...load, deadline: null },
  );
  const irradianceSensor = settings.irradianceSensor ?? null;
  return {
    ...start,
    memory: {
      ...withSensor(memory),
      acMoveW: memory.acMoveW ?? null,
      battery: { ...NO_LOSSES, ...memory.battery },
      loads,
    },
    settings: { ...settings, irradianceSensor, loads: loadSettings },
  };
}

function withSteps({ draw }: LoadMemory): LoadMemory["draw"] {
  const none = { stepsW: draw.learnedW.map(() => []), ofStage: 0 };
  return Object.hasOwn(draw, "stepsW") ? draw : { ...draw, ...none };
}

function withSensor(memory: JournalStart["memory"]): JournalStart["memory"] {
  if (!Object.hasOwn(memory, "potential")) return memory;
  const { potential } = memory;
  return { ...memory, potential: { ...potential, sky: { ...NO_SENSOR, ...potential.sky } } };
}

/** Before anything could be forgotten, nothing said so; nor was there a forecast or a sensor. */
function withNewSignals(observation: Observation): Observation {
  const since = { unlearn: "none", forecast: NO_FORECAST, irradianceWm2: UNMAPPED } as const;
  return Object.hasOwn(observation, "irradianceWm2") ? observation : { ...since, ...observation };
}

function has<Key extends string>(row: unknown, keys: readonly Key[]): row is Record<Key, unknown> {
  return typeof row === "object" && row !== null && keys.every((key) => Object.hasOwn(row, key));
}
