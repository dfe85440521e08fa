/**
 * The one who writes: takes each tick, keeps the journal, the minutes and the rows, and commits.
 *
 * It has no clock of its own: its minutes and days are those of the ticks. Rows with events are
 * committed with their tick, all others every five minutes: each commit writes whole pages, and a
 * memory card has only so many. What a crash takes of those minutes is in the journal but for one.
 */
import { createHash } from "node:crypto";
import { join } from "node:path";
import type { Memory } from "../control/memory.ts";
import { createGuard } from "./guard.ts";
import type { Guard } from "./guard.ts";
import { createJournal } from "./journal/journal.ts";
import type { Journal } from "./journal/journal.ts";
import { loadMemory, packMemory, saveMemory } from "./memory-file.ts";
import type { FromScribe, ScribeOptions, Tick, ToScribe } from "./messages.ts";
import { readMigrations } from "./migrate.ts";
import { dropOldRows } from "./retention.ts";
import { createSampler } from "./samples.ts";
import type { Sample, Sampler } from "./samples.ts";
import { figuresOf, listIds } from "./signal-walk.ts";
import type { ListIds } from "./signal-walk.ts";
import { createStore } from "./store.ts";
import type { Instant, Say, Store } from "./store.ts";
import { createTickRows } from "./tick-rows.ts";
import type { TickRows } from "./tick-rows.ts";

export const DATABASE_FILE = "history.db";
export const JOURNAL_FOLDER = "journal";
export const MEMORY_FILE = "memory.json.br";

/** Between two commits without an event. [ms] */
const COMMIT_MS = 300_000;
/** Between two saved memories without an event. [ms] */
const REMEMBER_MS = 60_000;
/** Some hours of a site with 50 figures, in a few MB of memory. */
const ROWS_MAX = 20_000;

export interface Scribe {
  readonly receive: (message: ToScribe) => void;
}

interface State {
  readonly options: ScribeOptions;
  readonly tell: (message: FromScribe) => void;
  readonly ids: ListIds;
  readonly settingsHash: string;
  readonly settingsText: string;
  readonly store: Store;
  readonly journal: Journal;
  readonly sampler: Sampler;
  readonly tickRows: TickRows;
  readonly journalGuard: Guard;
  readonly memoryGuard: Guard;
  now: Instant;
  localDay: number | null;
  memory: Memory | null;
  /** As it was read at the start, until there is a newer one. */
  times: unknown;
  committedMs: number;
  rememberedMs: number;
}

export function createScribe(options: ScribeOptions, tell: (message: FromScribe) => void): Scribe {
  const { history, control, codeVersion, wallMs } = options;
  const settingsText = JSON.stringify(control);
  const settingsHash = createHash("sha256").update(settingsText).digest("hex");
  const say: Say = (level, text, fields) => tell({ kind: "said", level, message: text, fields });
  const journal = createJournal({
    folder: join(history.folder, JOURNAL_FOLDER),
    keptDays: history.journalKeptDays,
    keptBytes: history.journalMaxBytes,
    start: { codeVersion, settingsHash, settings: control },
  });
  const state: State = {
    options,
    tell,
    ids: listIds(control),
    settingsHash,
    settingsText,
    store: createStore({
      path: join(history.folder, DATABASE_FILE),
      migrations: readMigrations(),
      rowsMax: ROWS_MAX,
      say,
    }),
    journal,
    sampler: createSampler(),
    tickRows: createTickRows(listIds(control)),
    journalGuard: createGuard("journal", { say, isProven: journal.isWriting }),
    memoryGuard: createGuard("memory", { say, isProven: () => true }),
    now: { wallMs, monotonicMs: -Infinity },
    localDay: null,
    memory: null,
    times: null,
    committedMs: -Infinity,
    rememberedMs: -Infinity,
  };
  const saved = loadMemory(memoryPath(state));
  state.times = saved?.times ?? null;
  tell({ kind: "open", saved });
  // A damaged database is found and set aside now, and not when there is something to keep.
  state.store.commit(state.now, false);
  return { receive: (message) => receive(state, message) };
}

function receive(state: State, message: ToScribe): void {
  const { store, journal, tell } = state;
  switch (message.kind) {
    case "tick":
      takeTick(state, message.tick, message.memoryBefore);
      break;
    case "command": {
      const { about, owner, stage, wallMs, acknowledgedMs } = message.command;
      store.add({ kind: "command", values: [wallMs, about, owner, stage, acknowledgedMs] });
      break;
    }
    case "figures": {
      const { localDay, fromMs, body } = message.figures;
      store.add({ kind: "figures", values: [localDay, fromMs, body] });
      break;
    }
    case "times":
      state.times = message.times;
      break;
    case "lost": {
      const { wallMs } = state.now;
      store.add({ kind: "gap", values: [wallMs, wallMs, message.count, message.reason] });
      break;
    }
    case "flush":
      tell({ kind: "flushed", ticket: message.ticket, isWhole: flush(state) });
      break;
    case "close": {
      addSamples(store, state.sampler.finish());
      addMemory(state);
      const isWhole = flush(state);
      state.journalGuard.run(() => journal.close());
      store.close();
      tell({ kind: "flushed", ticket: message.ticket, isWhole });
    }
  }
  const droppedCount = store.droppedCount() + journal.droppedCount();
  const isWriting = store.isWriting() && state.journalGuard.isWell() && state.memoryGuard.isWell();
  tell({ kind: "done", droppedCount, isWriting });
}

/** @returns True if all that was received is in the files. */
function flush(state: State): boolean {
  const isRemembered = keepMemory(state);
  const isJournalled = state.journalGuard.run(() => state.journal.flush());
  return state.store.commit(state.now, false) && isJournalled && isRemembered;
}

function takeTick(
  state: State,
  tick: Omit<Tick, "memoryBefore">,
  memoryBefore: Memory | null,
): void {
  const { observation, memory, decision } = tick;
  const { store, sampler } = state;
  const { wallMs, monotonicMs, localDay } = observation;
  const before = memoryBefore ?? state.memory ?? memory;
  const isNext = memoryBefore === null || memoryBefore === state.memory;
  const row = { observation, decision, memoryBefore: () => before, isNext };
  state.journalGuard.run(() => state.journal.append(row));
  if (localDay !== state.localDay) {
    addMemory(state);
    beginDay(state, tick);
  }
  state.now = { wallMs, monotonicMs };
  state.memory = memory;
  const figures = figuresOf(tick, state.ids);
  addSamples(store, sampler.add({ figures, wallMs, monotonicMs }));
  for (const row of state.tickRows.rowsOf(tick)) store.add(row);
  const hasEvents = decision.events.length > 0;
  if (hasEvents || monotonicMs - state.rememberedMs >= REMEMBER_MS) {
    state.rememberedMs = monotonicMs;
    keepMemory(state);
  }
  if (hasEvents || monotonicMs - state.committedMs >= COMMIT_MS) {
    state.committedMs = monotonicMs;
    store.commit(state.now, true);
  }
}

function beginDay(state: State, { observation }: Omit<Tick, "memoryBefore">): void {
  const { options, store, settingsHash, settingsText } = state;
  const { localDay, wallMs, monotonicMs, isWallClockPlausible } = observation;
  state.localDay = localDay;
  store.add({ kind: "settings", values: [settingsHash, settingsText] });
  store.add({ kind: "day", values: [localDay, settingsHash, options.codeVersion, wallMs] });
  if (!isWallClockPlausible) return;
  const now = { wallMs, monotonicMs };
  store.use(now, (connection) => dropOldRows(connection, options.history, wallMs));
}

/** The day's last memory, for the learned figures in it. */
function addMemory({ memory, localDay, store, now, options }: State): void {
  if (memory === null || localDay === null) return;
  const { codeVersion } = options;
  const packed = packMemory({ wallMs: now.wallMs, codeVersion, body: memory });
  store.add({ kind: "memory", values: [localDay, now.wallMs, codeVersion, packed] });
}

/** The newest memory, for the next start. */
function keepMemory(state: State): boolean {
  const { memory, times, now, options, memoryGuard } = state;
  if (memory === null) return true;
  const saved = { wallMs: now.wallMs, codeVersion: options.codeVersion, body: memory, times };
  return memoryGuard.run(() => saveMemory(memoryPath(state), packMemory(saved)));
}

function memoryPath({ options }: State): string {
  return join(options.history.folder, MEMORY_FILE);
}

function addSamples(store: Store, samples: readonly Sample[]): void {
  for (const { minute, name, perUnit, mean, below, above } of samples) {
    store.add({ kind: "signal", values: [name, perUnit] });
    store.add({ kind: "sample", values: [minute, name, mean, below, above] });
  }
}
