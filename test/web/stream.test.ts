/** The stream's rules on a manual clock, without a network. */
import { describe, expect, test } from "vitest";
import { EVENTS_KEPT } from "../../service/chronicle.ts";
import type { StateView } from "../../service/state-view.ts";
import {
  createStream,
  HEARTBEAT_EVERY_MS,
  LOOK_EVERY_MS,
  READERS_MAX,
  STATE_EVERY_MS,
  WAITING_BYTES_MAX,
} from "../../service/web/stream.ts";
import type { Reader } from "../../service/web/stream.ts";
import { createStreamParser } from "../support/event-stream.ts";
import { decisionOf } from "../support/scripted-step.ts";
import { createTestApp, stateOf } from "../support/web-app.ts";

function setUp() {
  let voltageV = 54;
  let looks = 0;
  const state = (): StateView => {
    looks += 1;
    const { signals, ...rest } = stateOf("fresh");
    return { ...rest, signals: signals.map((signal) => ({ ...signal, value: voltageV })) };
  };
  const { source, chronicle, clock, log, lines } = createTestApp({ state });
  const stream = createStream({ source, clock, log });
  const happen = (times = 1) => {
    const event = { about: "load", index: 0, change: "started", code: "running" } as const;
    const decision = decisionOf({ loadStages: [1, 0], panelsClosed: [true] });
    chronicle.note({ ...decision, events: new Array<typeof event>(times).fill(event) });
  };
  return {
    stream,
    chronicle,
    clock,
    lines,
    happen,
    looks: () => looks,
    change: () => (voltageV += 0.01),
  };
}

function createReader() {
  const parser = createStreamParser();
  let waitingBytes = 0;
  let fate: "open" | "ended" | "dropped" = "open";
  const reader: Reader = {
    write: (text) => parser.push(text),
    waitingBytes: () => waitingBytes,
    end: () => (fate = "ended"),
    drop: () => (fate = "dropped"),
  };
  return {
    reader,
    parser,
    kinds: () => parser.messages.map(({ event }) => event),
    ids: () => parser.messages.map(({ id }) => id.split("-")[1]),
    fate: () => fate,
    stall: (bytes: number) => (waitingBytes = bytes),
  };
}

describe("state", () => {
  test("stands first, whole, with an id and a time to come back", () => {
    const { stream, chronicle } = setUp();
    const { reader, parser } = createReader();
    stream.open(reader, null);
    expect(parser.retryMs).toBe(2_000);
    expect(parser.messages).toHaveLength(1);
    expect(parser.messages[0]).toMatchObject({
      event: "state",
      id: `${chronicle.runId}-0`,
      data: { formatVersion: 1, site: { id: "malga" }, signals: [{ value: 54 }] },
    });
  });

  test("without change it comes again every 10 s, and not before", () => {
    const { stream, clock } = setUp();
    const { reader, kinds } = createReader();
    stream.open(reader, null);
    clock.advance(STATE_EVERY_MS - LOOK_EVERY_MS);
    expect(kinds()).toHaveLength(1);
    clock.advance(LOOK_EVERY_MS);
    expect(kinds()).toHaveLength(2);
    clock.advance(10 * STATE_EVERY_MS);
    expect(kinds()).toHaveLength(12);
  });

  test("a change comes within 250 ms; a thousand changes a second come four times", () => {
    const { stream, clock, change } = setUp();
    const { reader, kinds } = createReader();
    stream.open(reader, null);
    change();
    clock.advance(LOOK_EVERY_MS);
    expect(kinds()).toHaveLength(2);
    for (let count = 0; count < 1_000; count += 1) {
      change();
      clock.advance(1);
    }
    expect(kinds()).toHaveLength(6);
  });
});

describe("events", () => {
  test("come at once, numbered", () => {
    const { stream, happen, clock } = setUp();
    const { reader, kinds, ids, parser } = createReader();
    happen();
    stream.open(reader, null);
    happen(2);
    clock.advance(STATE_EVERY_MS);
    expect(kinds()).toEqual(["state", "event", "event", "state"]);
    expect(ids()).toEqual(["1", "2", "3", "3"]);
    expect(parser.messages[1]?.data).toMatchObject({ id: "water-heater", change: "started" });
  });

  test("whoever comes back gets what he missed: all of it, once, in order", () => {
    const { stream, chronicle, happen } = setUp();
    happen(5);
    const { reader, kinds, ids } = createReader();
    stream.open(reader, `${chronicle.runId}-2`);
    happen();
    expect(kinds()).toEqual(["state", "event", "event", "event", "event"]);
    expect(ids()).toEqual(["2", "3", "4", "5", "6"]);
  });

  test("a line that breaks after every piece loses and repeats nothing", () => {
    const { stream, happen } = setUp();
    const seen: string[] = [];
    let lastId: string | null = null;
    for (let turn = 0; turn < 20; turn += 1) {
      const { reader, parser } = createReader();
      const leave = stream.open(reader, lastId);
      happen(turn % 3);
      leave();
      happen(turn % 2);
      // It broke somewhere: the reader has a part of what was sent.
      const got = parser.messages.slice(0, 1 + (turn % 4));
      lastId = got.at(-1)?.id ?? lastId;
      seen.push(...got.filter(({ event }) => event === "event").map(({ id }) => id));
    }
    const numbers = seen.map((id) => Number(id.split("-")[1]));
    expect(numbers.length).toBeGreaterThan(15);
    expect(numbers).toEqual(numbers.map((_, index) => index + 1));
  });

  test.each([
    ["an earlier run", () => "0123456789ab-3", "another-run"],
    ["no id of ours", () => "<b>-1e9", "another-run"],
    ["one too old", (run: string) => `${run}-3`, "too-old"],
    ["one from the future", (run: string) => `${run}-99999`, "too-old"],
  ])("%s is told that there is a gap, and gets the state", (_what, idIn, reason) => {
    const { stream, chronicle, happen } = setUp();
    happen(EVENTS_KEPT + 4);
    const { reader, parser, kinds, ids } = createReader();
    stream.open(reader, idIn(chronicle.runId));
    expect(kinds()).toEqual(["gap", "state"]);
    expect(parser.messages[0]?.data).toEqual({ reason });
    expect(ids()).toEqual(["1004", "1004"]);
  });

  test("the oldest that is kept can still be resumed from", () => {
    const { stream, chronicle, happen } = setUp();
    happen(EVENTS_KEPT + 4);
    const { reader, kinds, ids } = createReader();
    stream.open(reader, `${chronicle.runId}-4`);
    expect(kinds()).toHaveLength(1 + EVENTS_KEPT);
    expect(ids().slice(0, 2)).toEqual(["4", "5"]);
    expect(ids().at(-1)).toBe("1004");
  });
});

test("a heartbeat comes every 15 s", () => {
  const { stream, clock } = setUp();
  const { reader, parser } = createReader();
  stream.open(reader, null);
  clock.advance(HEARTBEAT_EVERY_MS - LOOK_EVERY_MS);
  expect(parser.comments).toEqual([]);
  clock.advance(LOOK_EVERY_MS + HEARTBEAT_EVERY_MS);
  expect(parser.comments).toHaveLength(2);
});

test("a reader that does not read is dropped, said once, and holds up nobody", () => {
  const { stream, clock, change, happen, lines } = setUp();
  const slow = createReader();
  const good = createReader();
  stream.open(slow.reader, null);
  stream.open(good.reader, null);
  slow.stall(WAITING_BYTES_MAX);
  happen();
  expect(slow.fate()).toBe("open");
  slow.stall(WAITING_BYTES_MAX + 1);
  happen();
  expect(slow.fate()).toBe("dropped");
  change();
  clock.advance(LOOK_EVERY_MS);
  expect(slow.kinds()).toEqual(["state", "event"]);
  expect(good.kinds()).toEqual(["state", "event", "event", "state"]);
  expect([stream.readerCount(), stream.droppedCount()]).toEqual([1, 1]);
  expect(lines.filter((line) => line.includes("does not read"))).toHaveLength(1);
});

test("there is room for 50, and for another once one leaves", () => {
  const { stream } = setUp();
  const leaves = Array.from({ length: READERS_MAX }, () =>
    stream.open(createReader().reader, null),
  );
  expect(stream.isFull()).toBe(true);
  leaves[7]?.();
  leaves[7]?.();
  expect(stream.isFull()).toBe(false);
  expect(stream.readerCount()).toBe(READERS_MAX - 1);
});

test("nothing runs once the last reader has left", () => {
  const { stream, clock, looks, happen } = setUp();
  const { reader, kinds } = createReader();
  const leave = stream.open(reader, null);
  clock.advance(1_000);
  leave();
  const before = looks();
  happen();
  clock.advance(60_000);
  expect(looks()).toBe(before);
  expect(kinds()).toEqual(["state"]);
});

test("closing ends those who read, and drops those who don't", () => {
  const { stream } = setUp();
  const good = createReader();
  const slow = createReader();
  stream.open(good.reader, null);
  stream.open(slow.reader, null);
  slow.stall(1);
  stream.close();
  expect([good.fate(), slow.fate()]).toEqual(["ended", "dropped"]);
  expect(stream.readerCount()).toBe(0);
});
