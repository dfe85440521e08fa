/**
 * The inputs of every tick, exactly, so that the decisions of a day can be worked out again; and
 * what was decided, to be held against that.
 *
 * Ticks are kept for a minute and written as one block, so that a day stays small and the memory
 * card lives; a crash costs the last minute. A segment is never written to again once its run or
 * its day is over, or a write has failed: the next begins anew with what `step` then remembered.
 */
import { closeSync, fsyncSync, ftruncateSync, mkdirSync, openSync, unlinkSync } from "node:fs";
import { writeSync } from "node:fs";
import type { Decision } from "../../control/decision.ts";
import type { Memory } from "../../control/memory.ts";
import type { Observation } from "../../control/observation.ts";
import type { ControlSettings } from "../../control/settings.ts";
import { pack, packRows } from "./block.ts";
import { decidedBy } from "./decided.ts";
import { FRAME, frameOf, SEGMENT_HEAD } from "./frame.ts";
import { dayName, dropOldSegments, nextSegment } from "./segments.ts";
import { flatten } from "./shape.ts";
import type { Flat } from "./shape.ts";

/** What the ticks of a segment are to be seen with. */
export interface JournalStart {
  readonly codeVersion: string;
  readonly settingsHash: string;
  readonly settings: ControlSettings;
  /** Before the first tick that follows. */
  readonly memory: Memory;
}

export interface JournalOptions {
  readonly folder: string;
  readonly keptDays: number;
  /** At least the newest segment is kept. [byte] */
  readonly keptBytes: number;
  readonly start: Omit<JournalStart, "memory">;
}

export interface JournalTick {
  readonly observation: Observation;
  readonly decision: Decision;
  /** Asked for only where a segment begins. */
  readonly memoryBefore: () => Memory;
  /** That memory is the one after the tick that was appended before; else a segment begins. */
  readonly isNext: boolean;
}

export interface Journal {
  /** @throws Error of the file system; what could not be written is counted and dropped. */
  readonly append: (tick: JournalTick) => void;
  /** Writes what is kept, so that it survives the process. @throws Error of the file system */
  readonly flush: () => void;
  /** @throws Error of the file system */
  readonly close: () => void;
  readonly droppedCount: () => number;
  /** The last write went well. */
  readonly isWriting: () => boolean;
}

/** A block is written after this time, or this many ticks if they come faster. */
const BLOCK_MS = 60_000;
const BLOCK_ROWS = 240;

interface OpenSegment {
  readonly file: number;
  readonly path: string;
  /** Bytes that are known to be whole. */
  length: number;
  shape: string | null;
}

interface State {
  readonly options: JournalOptions;
  segment: OpenSegment | null;
  /** Memory before the first row, if the rows begin a segment. */
  memory: Memory | null;
  day: number | null;
  sinceMs: number;
  rows: Flat[];
  droppedCount: number;
}

export function createJournal(options: JournalOptions): Journal {
  const state: State = {
    options,
    segment: null,
    memory: null,
    day: null,
    sinceMs: 0,
    rows: [],
    droppedCount: 0,
  };
  return {
    append: (tick) => append(state, tick),
    flush: () => flush(state),
    close: () => {
      try {
        flush(state);
      } finally {
        endSegment(state);
      }
    },
    droppedCount: () => state.droppedCount,
    isWriting: () => state.segment !== null,
  };
}

function append(state: State, tick: JournalTick): void {
  const { observation, decision, isNext } = tick;
  const row = flatten({ ...observation, decided: decidedBy(decision) });
  const isOtherSegment = observation.localDay !== state.day || !isNext;
  const isOtherShape = state.rows[0] !== undefined && state.rows[0].shape !== row.shape;
  try {
    if (isOtherSegment || isOtherShape) flush(state);
    if (isOtherSegment) endSegment(state);
  } finally {
    // The ticks before may be lost; this one is not.
    keep(state, tick, row);
  }
}

function keep(state: State, { observation, memoryBefore }: JournalTick, row: Flat): void {
  const { monotonicMs, localDay } = observation;
  if (state.rows.length === 0) {
    state.sinceMs = monotonicMs;
    state.memory = state.segment === null ? memoryBefore() : null;
    state.day = localDay;
  }
  state.rows.push(row);
  const isFull = state.rows.length >= BLOCK_ROWS || monotonicMs - state.sinceMs >= BLOCK_MS;
  if (isFull) flush(state);
}

function flush(state: State): void {
  const { rows } = state;
  if (rows.length === 0) return;
  state.rows = [];
  try {
    state.segment ??= beginSegment(state);
    writeRows(state.segment, FRAME.block, rows);
  } catch (error) {
    state.droppedCount += rows.length;
    abandonSegment(state);
    throw error;
  }
}

function beginSegment({ options, day, memory }: State): OpenSegment {
  const { folder, start } = options;
  mkdirSync(folder, { recursive: true });
  const { path } = nextSegment(folder, dayName(day ?? 0));
  const file = openSync(path, "wx", 0o600);
  const segment: OpenSegment = { file, path, length: 0, shape: null };
  try {
    writeWhole(segment, SEGMENT_HEAD);
    writeRows(segment, FRAME.start, [flatten({ ...start, memory })]);
    dropOldSegments(folder, options);
  } catch (error) {
    closeSync(file);
    // Nothing of any tick stands in it yet.
    unlinkSync(path);
    throw error;
  }
  return segment;
}

function writeRows(
  segment: OpenSegment,
  kind: typeof FRAME.start | typeof FRAME.block,
  rows: readonly Flat[],
): void {
  const shape = rows[0]?.shape ?? "0";
  if (shape !== segment.shape) {
    writeWhole(segment, frameOf(FRAME.shape, pack(Buffer.from(shape, "utf8"))));
    segment.shape = shape;
  }
  writeWhole(segment, frameOf(kind, packRows(rows, shape)));
}

function writeWhole(segment: OpenSegment, bytes: Uint8Array): void {
  for (let done = 0; done < bytes.length;) {
    done += writeSync(segment.file, bytes, done, bytes.length - done, segment.length + done);
  }
  segment.length += bytes.length;
}

function endSegment(state: State): void {
  const { segment } = state;
  state.segment = null;
  if (segment === null) return;
  try {
    fsyncSync(segment.file);
  } finally {
    closeSync(segment.file);
  }
}

/** A write has failed: half a frame is cut off if that is still possible, and left if not. */
function abandonSegment(state: State): void {
  const { segment } = state;
  state.segment = null;
  if (segment === null) return;
  try {
    ftruncateSync(segment.file, segment.length);
    closeSync(segment.file);
  } catch {
    // The reader stops at what is not whole.
  }
}
