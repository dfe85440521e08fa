import { expect, it } from "vitest";
import { createHistory } from "../../service/history/history.ts";
import type { History } from "../../service/history/history.ts";
import type { FromScribe, ToScribe } from "../../service/history/messages.ts";
import { createMemoryLog } from "../support/log.ts";
import { createManualClock } from "../support/manual-clock.ts";
import type { ManualClock } from "../support/manual-clock.ts";
import { testHistory } from "../support/site.ts";
import { createShed, settings } from "./day-of-ticks.ts";

interface Bench {
  readonly history: History;
  readonly clock: ManualClock;
  readonly lines: readonly string[];
  /** What has been posted to the present thread. */
  readonly posted: ToScribe[];
  readonly tell: (message: FromScribe) => void;
  readonly die: () => void;
  readonly startCount: () => number;
}

function open(over: { refuses?: boolean; cannotCopy?: boolean } = {}): Bench {
  const clock = createManualClock();
  const { log, lines } = createMemoryLog();
  const posted: ToScribe[] = [];
  let startCount = 0;
  let handlers: { onMessage: (message: FromScribe) => void; onEnd: (error: unknown) => void };
  const history = createHistory({
    site: { control: settings, history: testHistory("nowhere") },
    codeVersion: "1.2.3",
    clock,
    log,
    startScribe(_options, given) {
      startCount += 1;
      if (over.refuses === true) throw new Error("no thread");
      handlers = given;
      posted.length = 0;
      return {
        post(message) {
          if (over.cannotCopy === true) throw new Error("cannot be copied");
          posted.push(message);
        },
        end: async () => undefined,
      };
    },
  });
  return {
    history,
    clock,
    lines,
    posted,
    tell: (message) => handlers.onMessage(message),
    die: () => handlers.onEnd(new Error("out of memory")),
    startCount: () => startCount,
  };
}

const DONE: FromScribe = { kind: "done", droppedCount: 0, isWriting: true };

it("posts each tick, with the memory before it only where the thread cannot know it", async () => {
  const { history, posted, tell } = open();
  const started = history.start();
  tell({ kind: "open", saved: null });
  expect(await started).toBeNull();
  const shed = createShed();
  const [first, second] = [shed.tick(), shed.tick()];
  shed.tick();
  const fourth = shed.tick();
  for (const tick of [first, second, fourth]) history.record(tick);
  const before = posted.map((message) => (message.kind === "tick" ? message.memoryBefore : "?"));
  expect(before).toEqual([first.memoryBefore, null, fourth.memoryBefore]);
});

it("gives the last run's memory, or none if the thread does not answer in time", async () => {
  const saved = { wallMs: 1, codeVersion: "1", body: { version: 1 } };
  const quick = open();
  const started = quick.history.start();
  quick.tell({ kind: "open", saved });
  expect(await started).toEqual(saved);
  const slow = open();
  const late = slow.history.start();
  slow.clock.advance(10_000);
  expect(await late).toBeNull();
  slow.tell({ kind: "open", saved });
});

it("drops ticks and counts them when the thread falls behind, and tells it when it has caught up", () => {
  const { history, posted, tell } = open();
  void history.start();
  const shed = createShed();
  const ticks = Array.from({ length: 303 }, () => shed.tick());
  for (const tick of ticks.slice(0, 302)) history.record(tick);
  expect(posted).toHaveLength(300);
  expect(history.status().droppedCount).toBe(2);
  for (let count = 0; count < 300; count += 1) tell(DONE);
  history.record(ticks[302]!);
  expect(posted.slice(300)).toMatchObject([
    { kind: "lost", count: 2 },
    { kind: "tick", memoryBefore: ticks[302]!.memoryBefore },
  ]);
  tell({ ...DONE, droppedCount: 5 });
  expect(history.status()).toEqual({ isWriting: true, droppedCount: 7 });
});

it("starts another thread a minute after one has ended, and answers who was waiting", async () => {
  const { history, clock, lines, posted, tell, die, startCount } = open();
  void history.start();
  const shed = createShed();
  history.record(shed.tick());
  tell(DONE);
  for (let count = 0; count < 3; count += 1) history.record(shed.tick());
  const flushed = history.flush();
  die();
  expect(await flushed).toBe(false);
  expect(lines).toEqual(["warn the history's thread has ended; control goes on"]);
  expect(history.status()).toEqual({ isWriting: false, droppedCount: 3 });
  history.record(shed.tick());
  clock.advance(59_999);
  expect(startCount()).toBe(1);
  clock.advance(1);
  expect(startCount()).toBe(2);
  const next = shed.tick();
  history.record(next);
  expect(posted).toMatchObject([{ kind: "lost", count: 4 }, { memoryBefore: next.memoryBefore }]);
});

it("never throws, though no thread can be had or nothing can be copied", async () => {
  const none = open({ refuses: true });
  expect(await none.history.start()).toBeNull();
  none.history.record(createShed().tick());
  expect(await none.history.flush()).toBe(false);
  await none.history.close();
  const mute = open({ cannotCopy: true });
  void mute.history.start();
  mute.history.record(createShed().tick());
  expect(await mute.history.flush()).toBe(false);
  expect(mute.lines).toEqual([
    "warn the history could not take a message",
    "warn the history could not take a message",
  ]);
  expect(mute.history.status().droppedCount).toBe(1);
});

it("waits for an answer to flush and close, and not for ever", async () => {
  const { history, clock, posted, tell } = open();
  void history.start();
  const flushed = history.flush();
  tell({ kind: "flushed", ticket: 1, isWhole: true });
  expect(await flushed).toBe(true);
  const unanswered = history.flush();
  clock.advance(10_000);
  expect(await unanswered).toBe(false);
  const closed = history.close();
  expect(posted.at(-1)).toEqual({ kind: "close", ticket: 3 });
  clock.advance(10_000);
  await closed;
  history.record(createShed().tick());
  expect(posted.at(-1)).toEqual({ kind: "close", ticket: 3 });
  expect(await history.flush()).toBe(false);
});

it("passes on what the thread says", () => {
  const { history, lines, tell } = open();
  void history.start();
  tell({ kind: "said", level: "info", message: "the history is written again", fields: {} });
  expect(lines).toEqual(["info the history is written again"]);
});
