/** The publisher's own time: how old a value really is, and in which order values were taken. */
import { describe, expect, test } from "vitest";
import type { StampSettings } from "../../config/site-settings.ts";
import { parseRfc3339 } from "../../service/telemetry/stamp.ts";
import { DEFAULT_WALL_MS } from "../support/manual-clock.ts";
import { signalOfOne } from "../support/signal.ts";
import { setUpTable } from "../support/table.ts";

function setUp(form: StampSettings["form"] = "milliseconds") {
  const stamp: StampSettings = { field: "/t", form, aheadMaxMs: 5_000 };
  const own = { key: "battery.voltage", ownerId: null, field: "/v", stamp } as const;
  const table = setUpTable([signalOfOne({ ...own, topic: "shed/battery", staleMs: 60_000 })]);
  const read = () => table.table.readNumber("battery.voltage", null);
  const say = (v: number, t: unknown, isRetained = false): void =>
    table.say("shed/battery", { v, t }, isRetained);
  const ignored = () => table.view("battery.voltage").ignoredCounts;
  return { ...table, read, say, ignored };
}

describe("the age of a stamped value", () => {
  test("is what its stamp says, if that is older than its arrival", () => {
    const { say, read, clock } = setUp();
    say(52, DEFAULT_WALL_MS - 40_000);
    expect(read()).toEqual({ value: 52, quality: "fresh", ageMs: 40_000 });
    clock.advance(20_000);
    expect(read()).toEqual({ value: 52, quality: "fresh", ageMs: 60_000 });
    clock.advance(1);
    expect(read().quality).toBe("stale");
  });

  test("is that of its arrival, if our clock has been set back meanwhile", () => {
    const { say, read, clock } = setUp();
    say(52, DEFAULT_WALL_MS);
    clock.advance(30_000);
    clock.setWallMs(DEFAULT_WALL_MS);
    expect(read()).toEqual({ value: 52, quality: "fresh", ageMs: 30_000 });
  });

  test.each([
    [60_000, "fresh"],
    [60_001, "stale"],
  ])("on arrival %d ms old by its stamp: %s at once", (ageMs, quality) => {
    const { say, read } = setUp();
    say(52, DEFAULT_WALL_MS - ageMs);
    expect(read()).toEqual({ value: 52, quality, ageMs });
  });
});

describe("a stamp ahead of our clock", () => {
  test.each([
    [5_000, {}, "fresh"],
    [5_001, { "stamp-ahead": 1 }, "waiting"],
  ])("by %d ms: %j, %s", (aheadMs, counts, quality) => {
    const { say, read, ignored } = setUp();
    say(52, DEFAULT_WALL_MS + aheadMs);
    expect(ignored()).toEqual(counts);
    expect(read().quality).toBe(quality);
  });

  test("tells the order alone while our clock cannot be right", () => {
    const { say, read, clock, ignored } = setUp();
    clock.setWallMs(0);
    say(52, DEFAULT_WALL_MS);
    expect(read()).toEqual({ value: 52, quality: "fresh", ageMs: 0 });
    say(53, DEFAULT_WALL_MS - 1);
    expect(read().value).toBe(52);
    expect(ignored()).toEqual({ "out-of-order": 1 });
  });

  test("bars nobody for ever: once our clock is right, a stamp that cannot be is forgotten", () => {
    const { say, read, clock } = setUp();
    clock.setWallMs(0);
    say(52, DEFAULT_WALL_MS + 86_400_000);
    clock.setWallMs(DEFAULT_WALL_MS);
    say(53, DEFAULT_WALL_MS);
    expect(read()).toEqual({ value: 53, quality: "fresh", ageMs: 0 });
  });
});

describe("the order of stamps", () => {
  test("an older one than the newest is ignored; the same one again is not", () => {
    const { say, read, ignored } = setUp();
    say(52, DEFAULT_WALL_MS - 1_000);
    say(53, DEFAULT_WALL_MS - 1_001);
    expect(read().value).toBe(52);
    expect(ignored()).toEqual({ "out-of-order": 1 });
    say(54, DEFAULT_WALL_MS - 1_000);
    expect(read().value).toBe(54);
  });

  test("an implausible value that comes too late raises no doubt", () => {
    const { say, read } = setUp();
    say(52, DEFAULT_WALL_MS - 1_000);
    say(5e9, DEFAULT_WALL_MS - 2_000);
    expect(read().quality).toBe("fresh");
  });

  test("what the broker had kept sets no order", () => {
    const { say, read } = setUp();
    say(52, DEFAULT_WALL_MS, true);
    say(53, DEFAULT_WALL_MS - 1_000);
    expect(read()).toMatchObject({ value: 53, quality: "fresh" });
  });
});

describe("a stamp that can't be read", () => {
  test.each([
    ["milliseconds", "2026-06-15T10:00:00Z"],
    ["milliseconds", null],
    ["milliseconds", undefined],
    ["milliseconds", 8.65e15],
    ["milliseconds", [1]],
    ["seconds", "1781517600"],
    ["rfc3339", DEFAULT_WALL_MS],
    ["rfc3339", "2026-06-15"],
    ["rfc3339", "yesterday"],
  ] as const)("%s: %j", (form, stamp) => {
    const { say, read, ignored } = setUp(form);
    say(52, stamp);
    expect(ignored()).toEqual({ "bad-stamp": 1 });
    expect(read().quality).toBe("waiting");
  });

  test("each form gives the same instant", () => {
    for (const [form, stamp] of [
      ["milliseconds", DEFAULT_WALL_MS - 7_000],
      ["seconds", DEFAULT_WALL_MS / 1000 - 7],
      ["rfc3339", "2026-06-15T11:59:53+02:00"],
    ] as const) {
      const { say, read } = setUp(form);
      say(52, stamp);
      expect([form, read().ageMs]).toEqual([form, 7_000]);
    }
  });
});

/**
 * RFC 3339, "Date and Time on the Internet: Timestamps", 5.8, the five examples, from memory; the
 * instants by the calendar of the language.
 */
describe("RFC 3339", () => {
  test.each([
    ["1985-04-12T23:20:50.52Z", Date.UTC(1985, 3, 12, 23, 20, 50, 520)],
    ["1996-12-19T16:39:57-08:00", Date.UTC(1996, 11, 20, 0, 39, 57)],
    ["1990-12-31T23:59:60Z", Date.UTC(1991, 0, 1)],
    ["1990-12-31T15:59:60-08:00", Date.UTC(1991, 0, 1)],
    ["1937-01-01T12:00:27.87+00:20", Date.UTC(1937, 0, 1, 11, 40, 27, 870)],
    ["2024-02-29t00:00:00z", Date.UTC(2024, 1, 29)],
    ["2026-06-15 10:00:00Z", DEFAULT_WALL_MS],
  ])("%s", (text, ms) => {
    expect(parseRfc3339(text)).toBe(ms);
  });

  test.each([
    "2025-02-29T00:00:00Z",
    "1900-02-29T00:00:00Z",
    "2026-04-31T00:00:00Z",
    "2026-13-01T00:00:00Z",
    "2026-00-01T00:00:00Z",
    "2026-06-15T24:00:00Z",
    "2026-06-15T10:60:00Z",
    "2026-06-15T10:00:61Z",
    "2026-06-15T10:00:00",
    "2026-06-15T10:00Z",
    "2026-06-15T10:00:00+24:00",
    "2026-06-15T10:00:00+0200",
    " 2026-06-15T10:00:00Z",
    "２０２６-06-15T10:00:00Z",
  ])("%s is none", (text) => {
    expect(parseRfc3339(text)).toBeNull();
  });
});
