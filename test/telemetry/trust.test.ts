/** What makes a readable value doubtful: it moved too fast, or stood still while others moved. */
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { createPace, paceAllows } from "../../service/telemetry/pace.ts";
import { signalOfOne } from "../support/signal.ts";
import { setUpTable } from "../support/table.ts";

const VOLTAGE = { key: "battery.voltage", ownerId: null, topic: "shed/v" } as const;
const CURRENT = { key: "battery.current", ownerId: null, topic: "shed/i" } as const;

describe("a value that moves too fast", () => {
  function setUp() {
    const maxChange = { by: 2, inMs: 1_000 };
    const set = setUpTable([signalOfOne({ ...VOLTAGE, min: 0, max: 100, maxChange })]);
    const hear = (afterMs: number, volts: number) => {
      set.clock.advance(afterMs);
      set.say("shed/v", String(volts));
      const { value, quality } = set.table.readNumber("battery.voltage", null);
      return [value, quality];
    };
    return { ...set, hear };
  }

  test.each([
    [1_000, 54, [54, "fresh"]],
    [1_000, 54.1, [52, "implausible"]],
    [100, 54, [54, "fresh"]],
    [100, 54.1, [52, "implausible"]],
    [10_000, 72, [72, "fresh"]],
    [10_000, 72.1, [52, "implausible"]],
    [1_000, 50, [50, "fresh"]],
    [1_000, 49.9, [52, "implausible"]],
  ])("52 V, and after %d ms %d V: %j", (afterMs, volts, reading) => {
    const { hear } = setUp();
    hear(0, 52);
    expect(hear(afterMs, volts)).toEqual(reading);
  });

  test("many small steps within the time add up", () => {
    const { hear } = setUp();
    hear(0, 52);
    expect(hear(100, 53.5)).toEqual([53.5, "fresh"]);
    expect(hear(100, 55)).toEqual([53.5, "implausible"]);
  });

  test("a spike is not believed, and the next good value is", () => {
    const { hear, view } = setUp();
    hear(0, 52);
    expect(hear(1_000, 80)).toEqual([52, "implausible"]);
    expect(hear(1_000, 52.1)).toEqual([52.1, "fresh"]);
    expect(view("battery.voltage").ignoredCounts).toEqual({ "too-fast": 1 });
  });

  test("a real step is believed once three in a row agree", () => {
    const { hear } = setUp();
    hear(0, 52);
    expect(hear(1_000, 60)).toEqual([52, "implausible"]);
    expect(hear(1_000, 60.2)).toEqual([52, "implausible"]);
    expect(hear(1_000, 60.1)).toEqual([60.1, "fresh"]);
    expect(hear(1_000, 61)).toEqual([61, "fresh"]);
    expect(hear(1_000, 52)).toEqual([61, "implausible"]);
  });

  test("three that do not agree are three spikes, and one out of range starts anew", () => {
    const { hear } = setUp();
    hear(0, 52);
    for (const volts of [60, 75, 90]) expect(hear(1_000, volts)).toEqual([52, "implausible"]);
    expect(hear(1_000, 90)).toEqual([52, "implausible"]);
    expect(hear(1_000, 900)).toEqual([52, "implausible"]);
    expect(hear(1_000, 90)).toEqual([52, "implausible"]);
    expect(hear(1_000, 90)).toEqual([52, "implausible"]);
    expect(hear(1_000, 90)).toEqual([90, "fresh"]);
  });

  test("asks for a tick at once, where an interlock watches", () => {
    const { hear, requestTick } = setUp();
    hear(0, 52);
    hear(1_000, 57);
    expect(requestTick).toHaveBeenCalledTimes(1);
  });

  test("no single jump beyond the limit is ever believed", () => {
    const limit = { by: 2, inMs: 1_000 };
    const step = fc.oneof(fc.constantFrom(1.9, 2, 2.1, -2, -2.1), fc.double({ min: -9, max: 9 }));
    const gap = fc.constantFrom(0, 1, 999, 1_000, 1_001, 5_000);
    fc.assert(
      fc.property(fc.array(fc.tuple(step, gap), { maxLength: 40 }), (moves) => {
        const pace = createPace();
        const refused: number[] = [];
        let good = 0;
        let goodAtMs = 0;
        let [value, atMs] = [0, 0];
        paceAllows(pace, limit, { value, atMs });
        for (const [by, afterMs] of moves) {
          value = good + by;
          atMs += afterMs;
          if (!paceAllows(pace, limit, { value, atMs })) {
            refused.push(value);
            continue;
          }
          // Never further than what two windows allow, unless two before it had said the same.
          const reachW = limit.by * (1 + Math.max(1, (atMs - goodAtMs) / limit.inMs));
          if (Math.abs(value - good) > reachW + 1e-9) {
            expect(refused.length).toBeGreaterThanOrEqual(2);
          }
          good = value;
          goodAtMs = atMs;
          refused.length = 0;
        }
      }),
      { seed: 20_260_616, numRuns: 2_000 },
    );
  });
});

describe("a value that stands still", () => {
  const MINUTE_MS = 60_000;

  function setUp(frozenMs: number | null = 30 * MINUTE_MS) {
    const set = setUpTable([
      signalOfOne({ ...VOLTAGE, frozenMs }),
      signalOfOne({ ...CURRENT }),
      signalOfOne({ key: "load.{id}.power", ownerId: "pump", topic: "shed/pump/w" }),
    ]);
    /** Both sensors speak each minute. */
    const hear = (minutes: number, currentAt: (minute: number) => number, topic = "shed/i") => {
      for (let minute = 0; minute < minutes; minute += 1) {
        set.clock.advance(MINUTE_MS);
        set.say("shed/v", "52.4");
        set.say(topic, String(currentAt(minute)));
      }
      return set.table.readNumber("battery.voltage", null).quality;
    };
    return { ...set, hear };
  }

  test("is frozen once it has done so longer than allowed while another moved", () => {
    const { hear, clock, table, say } = setUp();
    // The first message starts the time.
    expect(hear(31, (minute) => minute)).toBe("fresh");
    clock.advance(1);
    expect(table.readNumber("battery.voltage", null)).toMatchObject({
      value: 52.4,
      quality: "frozen",
    });
    say("shed/v", "52.5");
    expect(table.readNumber("battery.voltage", null).quality).toBe("fresh");
  });

  test("is not while all stand still", () => {
    expect(setUp().hear(60, () => 10)).toBe("fresh");
  });

  test("is not where the settings do not ask", () => {
    expect(setUp(null).hear(60, (minute) => minute)).toBe("fresh");
  });

  test("is not because a load's meter moves", () => {
    expect(setUp().hear(60, (minute) => minute, "shed/pump/w")).toBe("fresh");
  });

  test("is stale, and not frozen, when it does not even arrive", () => {
    const { hear, clock, table } = setUp();
    hear(40, (minute) => minute);
    clock.advance(MINUTE_MS + 1);
    expect(table.readNumber("battery.voltage", null).quality).toBe("stale");
  });
});
