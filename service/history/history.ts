/**
 * The history as the daemon sees it: it takes what a tick brings and is done.
 *
 * A memory card can make a writer wait for seconds, so all writing is done by a thread of its own
 * (`scribe-worker.ts`). What goes there is counted; a writer that falls too far behind, or is gone,
 * costs history and never a tick.
 */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { Clock } from "../clock.ts";
import type { Log } from "../log.ts";
import type { SavedMemory } from "./memory-file.ts";
import type { FiguresToKeep, FromScribe, ScribeOptions, SentCommand } from "./messages.ts";
import type { Tick, ToScribe } from "./messages.ts";
import type { ScribeLink, StartScribe } from "./scribe-link.ts";
import { startScribeWorker } from "./start-scribe-worker.ts";

export interface HistoryOptions {
  readonly site: Pick<SiteSettings, "control" | "history">;
  readonly codeVersion: string;
  readonly clock: Clock;
  readonly log: Log;
  readonly startScribe?: StartScribe;
}

export interface HistoryStatus {
  /** False while the disk, the database or the thread fails. */
  readonly isWriting: boolean;
  /** Rows and ticks that could not be kept, since the start. */
  readonly droppedCount: number;
}

/** None of its functions throws, and none waits but those that return a promise. */
export interface History {
  /** @returns What the last run remembered; null if there is none, or it takes too long. */
  readonly start: () => Promise<SavedMemory | null>;
  readonly record: (tick: Tick) => void;
  readonly recordCommand: (command: SentCommand) => void;
  /** Figures of a day that is over; those that cannot be kept are worked out when asked for. */
  readonly keepFigures: (figures: FiguresToKeep) => void;
  /** How often good times came true: the newest is saved beside what the core remembers. */
  readonly keepTimes: (times: unknown) => void;
  /** @returns True if all that was recorded is in the files and survives this process. */
  readonly flush: () => Promise<boolean>;
  /** Writes what it can; nothing is recorded after this. */
  readonly close: () => Promise<void>;
  readonly status: () => HistoryStatus;
  /** Whoever makes ticks faster than life had better wait, or the next ones may be lost. */
  readonly isBehind: () => boolean;
}

/** Messages that may be on their way: ten minutes of ticks at the usual pace. */
const ON_THE_WAY_MAX = 300;
/** A flush and a start wait no longer than this for the thread. [ms] */
const ANSWER_MS = 10_000;
const RESTART_MS = 60_000;

interface State {
  readonly options: HistoryOptions;
  readonly startScribe: StartScribe;
  link: ScribeLink | null;
  onTheWay: number;
  /** Lost on this side, and not yet told to the thread. */
  lost: number;
  lostCount: number;
  lastMemory: Tick["memory"] | null;
  scribeStatus: HistoryStatus;
  /** Of threads that are gone. */
  earlierDroppedCount: number;
  ticket: number;
  readonly waiting: Map<number, (isWhole: boolean) => void>;
  onOpen: ((saved: SavedMemory | null) => void) | null;
  cancelRestart: () => void;
  isClosed: boolean;
}

export function createHistory(options: HistoryOptions): History {
  const state: State = {
    options,
    startScribe: options.startScribe ?? startScribeWorker,
    link: null,
    onTheWay: 0,
    lost: 0,
    lostCount: 0,
    lastMemory: null,
    scribeStatus: { isWriting: false, droppedCount: 0 },
    earlierDroppedCount: 0,
    ticket: 0,
    waiting: new Map(),
    onOpen: null,
    cancelRestart: () => undefined,
    isClosed: false,
  };
  return {
    start: () => start(state),
    record: (tick) => record(state, tick),
    recordCommand(command) {
      post(state, { kind: "command", command });
    },
    keepFigures(figures) {
      post(state, { kind: "figures", figures });
    },
    keepTimes(times) {
      post(state, { kind: "times", times });
    },
    flush: () => ask(state, "flush"),
    async close() {
      if (state.isClosed) return;
      const answer = ask(state, "close");
      state.isClosed = true;
      state.cancelRestart();
      await answer;
      const { link } = state;
      state.link = null;
      await link?.end();
    },
    isBehind: () => state.link !== null && state.onTheWay > ON_THE_WAY_MAX / 2,
    status: () => ({
      isWriting: state.link !== null && state.scribeStatus.isWriting,
      droppedCount: state.lostCount + state.earlierDroppedCount + state.scribeStatus.droppedCount,
    }),
  };
}

function start(state: State): Promise<SavedMemory | null> {
  return new Promise((resolve) => {
    const cancel = state.options.clock.schedule(ANSWER_MS, () => state.onOpen?.(null));
    state.onOpen = (saved) => {
      state.onOpen = null;
      cancel();
      resolve(saved);
    };
    begin(state);
  });
}

function begin(state: State): void {
  const { site, codeVersion, clock } = state.options;
  const options: ScribeOptions = {
    history: site.history,
    control: site.control,
    codeVersion,
    wallMs: clock.wallMs(),
  };
  state.onTheWay = 0;
  try {
    state.link = state.startScribe(options, {
      onMessage: (message) => hear(state, message),
      onEnd: (error) => ended(state, error),
    });
  } catch (error) {
    ended(state, error);
  }
}

function hear(state: State, message: FromScribe): void {
  switch (message.kind) {
    case "open":
      state.onOpen?.(message.saved);
      break;
    case "done":
      state.onTheWay -= 1;
      state.scribeStatus = message;
      break;
    case "flushed":
      state.waiting.get(message.ticket)?.(message.isWhole);
      break;
    case "said":
      state.options.log[message.level](message.fields, message.message);
  }
}

/** The thread is gone with all that was on its way; another one is tried after a while. */
function ended(state: State, error: unknown): void {
  if (state.isClosed) return;
  const { log, clock } = state.options;
  log.warn({ err: error }, "the history's thread has ended; control goes on");
  state.link = null;
  state.lastMemory = null;
  // A question that is lost is answered below; it was nothing to be kept.
  lose(state, Math.max(0, state.onTheWay - state.waiting.size));
  state.earlierDroppedCount += state.scribeStatus.droppedCount;
  state.scribeStatus = { isWriting: false, droppedCount: 0 };
  state.onOpen?.(null);
  for (const answer of [...state.waiting.values()]) answer(false);
  state.cancelRestart = clock.schedule(RESTART_MS, () => begin(state));
}

function record(state: State, { memoryBefore, ...tick }: Tick): void {
  // The thread has it already, unless the chain of ticks was broken.
  const isNext = state.lastMemory === memoryBefore;
  const isPosted = post(state, {
    kind: "tick",
    tick,
    memoryBefore: isNext ? null : memoryBefore,
  });
  state.lastMemory = isPosted ? tick.memory : null;
}

function post(state: State, message: ToScribe): boolean {
  const { link, isClosed } = state;
  if (isClosed) return false;
  const isToKeep = message.kind === "tick" || message.kind === "command";
  if (link === null || state.onTheWay >= ON_THE_WAY_MAX) {
    if (isToKeep) lose(state, 1);
    return false;
  }
  try {
    if (state.lost > 0) {
      link.post({ kind: "lost", count: state.lost, reason: "writer too slow or gone" });
      state.lost = 0;
      state.onTheWay += 1;
    }
    link.post(message);
    state.onTheWay += 1;
    return true;
  } catch (error) {
    // What cannot be copied is a mistake of ours; it must not end the tick that made it.
    state.options.log.warn({ err: error }, "the history could not take a message");
    if (isToKeep) lose(state, 1);
    return false;
  }
}

function lose(state: State, count: number): void {
  state.lost += count;
  state.lostCount += count;
}

function ask(state: State, kind: "flush" | "close"): Promise<boolean> {
  return new Promise((resolve) => {
    state.ticket += 1;
    const { ticket, waiting, options } = state;
    const answer = (isWhole: boolean): void => {
      waiting.delete(ticket);
      cancel();
      resolve(isWhole);
    };
    const cancel = options.clock.schedule(ANSWER_MS, () => answer(false));
    waiting.set(ticket, answer);
    if (!post(state, { kind, ticket })) answer(false);
  });
}
