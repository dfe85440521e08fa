/**
 * The stream of `/api/stream`: to every reader the whole state first and on change, and each event
 * as it happens.
 *
 * While anyone reads, the state is looked at four times a second; that bounds both the delay and
 * the traffic, however fast telemetry comes. A reader who doesn't read is dropped as soon as more
 * than a bounded text waits for him: he can come back and resume by his last id.
 */
import type { Clock } from "../clock.ts";
import type { Log } from "../log.ts";
import type { StateView } from "../state-view.ts";
import type { WebSource } from "./source.ts";
import { eventFrame, gapFrame, HEARTBEAT, OPENING, resume, stateFrame } from "./stream-frames.ts";

/** Where the text goes. */
export interface Reader {
  readonly write: (text: string) => void;
  /** Written, but not yet taken by the other end. [bytes] */
  readonly waitingBytes: () => number;
  /** The end, after all that waits. */
  readonly end: () => void;
  /** The end at once. */
  readonly drop: () => void;
}

export interface Stream {
  readonly isFull: () => boolean;
  /** @returns To be called when the reader is gone. */
  readonly open: (reader: Reader, lastId: string | null) => () => void;
  readonly close: () => void;
  readonly readerCount: () => number;
  /** Readers that did not read. */
  readonly droppedCount: () => number;
}

export const READERS_MAX = 50;
/** More than all kept events at once. */
export const WAITING_BYTES_MAX = 1_048_576;
export const LOOK_EVERY_MS = 250;
export const STATE_EVERY_MS = 10_000;
export const HEARTBEAT_EVERY_MS = 15_000;

interface Desk {
  readonly source: WebSource;
  readonly clock: Clock;
  readonly log: Log;
  readonly readers: Set<Reader>;
  /** What was last told, without what changes all the time. */
  told: string;
  toldAtMs: number;
  beatAtMs: number;
  droppedCount: number;
  cancelLook: () => void;
  leaveEvents: () => void;
}

export function createStream(options: Pick<Desk, "source" | "clock" | "log">): Stream {
  const nothing = (): void => undefined;
  const desk: Desk = {
    ...options,
    readers: new Set(),
    told: "",
    toldAtMs: 0,
    beatAtMs: 0,
    droppedCount: 0,
    cancelLook: nothing,
    leaveEvents: nothing,
  };
  return {
    isFull: () => desk.readers.size >= READERS_MAX,
    open(reader, lastId) {
      if (desk.readers.size === 0) begin(desk);
      desk.readers.add(reader);
      greet(desk, reader, lastId);
      return () => leave(desk, reader);
    },
    close() {
      for (const reader of [...desk.readers]) {
        leave(desk, reader);
        // Whoever has not taken what he was sent would hold the end up.
        if (reader.waitingBytes() > 0) reader.drop();
        else reader.end();
      }
    },
    readerCount: () => desk.readers.size,
    droppedCount: () => desk.droppedCount,
  };
}

/** Nothing runs while nobody reads. */
function begin(desk: Desk): void {
  const { source, clock } = desk;
  desk.beatAtMs = clock.monotonicMs();
  desk.toldAtMs = clock.monotonicMs();
  desk.told = summaryOf(source.state());
  desk.leaveEvents = source.chronicle.onEvent((event) => {
    tellAll(desk, eventFrame(source.chronicle.runId, event));
  });
  planLook(desk);
}

function planLook(desk: Desk): void {
  desk.cancelLook = desk.clock.schedule(LOOK_EVERY_MS, () => {
    planLook(desk);
    look(desk);
  });
}

function look(desk: Desk): void {
  const { source, clock } = desk;
  const nowMs = clock.monotonicMs();
  const state = source.state();
  const summary = summaryOf(state);
  if (summary !== desk.told || nowMs - desk.toldAtMs >= STATE_EVERY_MS) {
    desk.told = summary;
    desk.toldAtMs = nowMs;
    const { runId, lastNumber } = source.chronicle;
    tellAll(desk, stateFrame(runId, lastNumber(), state));
  }
  if (nowMs - desk.beatAtMs >= HEARTBEAT_EVERY_MS) {
    desk.beatAtMs = nowMs;
    tellAll(desk, HEARTBEAT);
  }
}

/** The state stands first; its id says what the reader has so far, not what is still to come. */
function greet({ source, ...desk }: Desk, reader: Reader, lastId: string | null): void {
  const { chronicle } = source;
  const { runId } = chronicle;
  const lastNumber = chronicle.lastNumber();
  const back = lastId === null ? null : resume(chronicle, lastId);
  reader.write(OPENING);
  if (back?.kind === "gap") reader.write(gapFrame(runId, lastNumber, back.gap));
  const from = back?.kind === "events" ? back.from : lastNumber;
  reader.write(stateFrame(runId, from, source.state()));
  if (back?.kind === "events") {
    for (const event of back.events) reader.write(eventFrame(runId, event));
  }
  desk.log.debug({ lastId, readers: desk.readers.size }, "reader of the stream came");
}

function tellAll(desk: Desk, text: string): void {
  for (const reader of [...desk.readers]) {
    if (reader.waitingBytes() <= WAITING_BYTES_MAX) {
      reader.write(text);
      continue;
    }
    desk.droppedCount += 1;
    desk.log.warn({ waitingBytes: reader.waitingBytes() }, "reader of the stream does not read");
    leave(desk, reader);
    reader.drop();
  }
}

function leave(desk: Desk, reader: Reader): void {
  if (!desk.readers.delete(reader) || desk.readers.size > 0) return;
  desk.cancelLook();
  desk.leaveEvents();
}

/** What counts as a change: all but the time, ages and counters. */
function summaryOf(state: StateView): string {
  return JSON.stringify({
    ...state,
    at: null,
    counters: null,
    signals: state.signals.map(({ signal, value, quality }) => [signal, value, quality]),
  });
}
