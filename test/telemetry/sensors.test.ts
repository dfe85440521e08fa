/** One signal from many places: wildcards, replacements in order, and values that are combined. */
import { describe, expect, test } from "vitest";
import type { SensorSettings } from "../../config/site-settings.ts";
import { PLAIN_FEED, signalOfOne } from "../support/signal.ts";
import { setUpTable, withSensors } from "../support/table.ts";

const SOC = signalOfOne({ key: "battery.soc", ownerId: null, min: 0, max: 1 });
const CURRENT = signalOfOne({ key: "battery.current", ownerId: null, min: -200, max: 200 });

describe("a wildcard", () => {
  function setUp() {
    const set = setUpTable([
      signalOfOne({ key: "battery.voltage", ownerId: null, topic: "shed/+/v", min: 0, max: 100 }),
    ]);
    return { ...set, read: () => set.table.readNumber("battery.voltage", null) };
  }

  test("is subscribed to, and binds to the first topic that gives a good live value", () => {
    const { table, say, read, view } = setUp();
    expect(table.topics).toEqual(["shed/+/v"]);
    say("shed/a/v", "54", true);
    say("shed/b/v", "none");
    say("shed/c/v", "900");
    say("shed/d/v", "52");
    say("shed/a/v", "54");
    expect(read()).toMatchObject({ value: 52, quality: "fresh" });
    expect(view("battery.voltage")).toMatchObject({
      sensors: [{ topics: ["shed/d/v"] }],
      ignoredCounts: { "wrong-type": 1, "out-of-range": 1, "other-topic": 1 },
    });
  });

  test.each([
    [60_000, 52],
    [60_001, 54],
  ])("leaves its topic only once that is stale: after %d ms it reads %d", (afterMs, value) => {
    const { say, read, clock } = setUp();
    say("shed/a/v", "52");
    clock.advance(afterMs);
    say("shed/b/v", "54");
    expect(read().value).toBe(value);
  });

  test("stays with a topic whose newest value is not to be believed", () => {
    const { say, read } = setUp();
    say("shed/a/v", "52");
    say("shed/a/v", "900");
    say("shed/b/v", "54");
    expect(read()).toMatchObject({ value: 52, quality: "implausible" });
  });

  test("matches whole levels, and no topic of the broker's own", () => {
    const { say, table, read } = setUp();
    for (const topic of ["shed/v", "shed/a/b/v", "shed/a/v/w", "Shed/a/v", "$SYS/a/v", "shed/a"]) {
      say(topic, "52");
    }
    expect(read().quality).toBe("waiting");
    expect(table.ignoredCounts()["unmapped-topic"]).toBe(6);
    say("shed//v", "52");
    expect(read().quality).toBe("fresh");
  });

  test("forgets topics that never mattered, and finds its own again", () => {
    const { say, table, read } = setUp();
    say("shed/a/v", "52");
    for (let index = 0; index < 2_500; index += 1) say(`noise/${String(index)}`, "1");
    say("shed/a/v", "53");
    expect(read().value).toBe(53);
    expect(table.ignoredCounts()["unmapped-topic"]).toBe(2_500);
  });
});

function alone(topic: string): Pick<SensorSettings, "combine" | "feeds"> {
  return { combine: "alone", feeds: [{ ...PLAIN_FEED, topic, min: 0, max: 1 }] };
}

describe("sensors in order", () => {
  function setUp() {
    const set = setUpTable([withSensors(SOC, [alone("a"), alone("b"), alone("c")])]);
    const read = () => {
      const { value, quality } = set.table.readNumber("battery.soc", null);
      return [value, quality];
    };
    return { ...set, read };
  }

  test("the first that is fresh is read; each change is told once and counted", () => {
    const { say, read, clock, changes, view } = setUp();
    say("a", "0.1");
    say("c", "0.3");
    expect(read()).toEqual([0.1, "fresh"]);
    clock.advance(60_001);
    say("c", "0.3");
    say("b", "0.2");
    expect(read()).toEqual([0.2, "fresh"]);
    expect(read()).toEqual([0.2, "fresh"]);
    say("a", "7");
    say("a", "0.15");
    expect(read()).toEqual([0.15, "fresh"]);
    expect(changes.map(({ from, to }) => [from, to])).toEqual([
      [0, 1],
      [1, 0],
    ]);
    expect(view("battery.soc")).toMatchObject({
      sensorInUse: 0,
      sensorChangeCount: 2,
      ignoredCounts: { "out-of-range": 1 },
      sensors: [
        { value: 0.15, quality: "fresh", topics: ["a"] },
        { value: 0.2, quality: "fresh", topics: ["b"] },
        { value: 0.3, quality: "fresh", topics: ["c"] },
      ],
    });
  });

  test("one that is not believed gives way at once", () => {
    const { say, read } = setUp();
    say("a", "0.1");
    say("b", "0.2");
    say("a", "7");
    expect(read()).toEqual([0.2, "fresh"]);
  });

  test("while none is fresh, the one that was read last tells how it is", () => {
    const { say, read, clock, changes } = setUp();
    expect(read()).toEqual([0, "waiting"]);
    say("b", "0.2");
    expect(read()).toEqual([0.2, "fresh"]);
    clock.advance(60_001);
    expect(read()).toEqual([0.2, "stale"]);
    expect(changes).toHaveLength(1);
  });

  test("looking on changes nothing", () => {
    const { say, view, changes } = setUp();
    say("b", "0.2");
    expect(view("battery.soc")).toMatchObject({ sensorInUse: 1, sensorChangeCount: 0 });
    expect(changes).toEqual([]);
  });
});

describe("combined", () => {
  function setUp(combine: SensorSettings["combine"], weights = [1, 1]) {
    const feeds = weights.map((weight, index) => ({
      ...PLAIN_FEED,
      topic: `i/${String(index)}`,
      min: -150,
      max: 150,
      weight,
    }));
    const set = setUpTable([withSensors(CURRENT, [{ combine, feeds }])]);
    return { ...set, read: () => set.table.readNumber("battery.current", null) };
  }

  test.each([
    ["sum", [1, 1], 40],
    ["mean", [1, 1], 20],
    ["mean", [3, 1], 15],
    ["lowest", [1, 1], 10],
    ["highest", [1, 1], 30],
  ] as const)("%s %j of 10 and 30 is %d", (combine, weights, expected) => {
    const { say, read } = setUp(combine, [...weights]);
    say("i/0", "10");
    say("i/1", "30");
    expect(read()).toEqual({ value: expected, quality: "fresh", ageMs: 0 });
  });

  test("is as old as the oldest, and nothing while a part is missing", () => {
    const { say, read, clock } = setUp("sum");
    say("i/0", "10");
    expect(read()).toEqual({ value: 0, quality: "waiting", ageMs: 0 });
    clock.advance(40_000);
    say("i/1", "30");
    expect(read()).toEqual({ value: 40, quality: "fresh", ageMs: 40_000 });
    clock.advance(20_001);
    expect(read()).toMatchObject({ quality: "stale", ageMs: 60_001 });
  });

  test("is as good as the worst", () => {
    const { say, read, clock } = setUp("mean");
    say("i/0", "10", true);
    say("i/1", "30");
    expect(read().quality).toBe("retained");
    say("i/0", "10");
    expect(read().quality).toBe("fresh");
    clock.advance(60_001);
    say("i/0", "999");
    expect(read().quality).toBe("implausible");
  });

  test("beyond what the whole can be it is not believed", () => {
    const { say, read } = setUp("sum");
    say("i/0", "120");
    say("i/1", "120");
    expect(read()).toMatchObject({ value: 240, quality: "implausible" });
  });
});

test("an interlock's limit on a sum asks for a tick when the sum crosses it", () => {
  const power = signalOfOne({ key: "inverter.power", ownerId: null });
  const feeds = ["w/0", "w/1"].map((topic) => ({ ...PLAIN_FEED, topic }));
  const { say, requestTick } = setUpTable([withSensors(power, [{ combine: "sum", feeds }])]);
  say("w/0", "5000");
  say("w/1", "3000");
  expect(requestTick).not.toHaveBeenCalled();
  say("w/1", "3001");
  say("w/0", "5001");
  expect(requestTick).toHaveBeenCalledTimes(1);
});
