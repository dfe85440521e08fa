/**
 * Whatever arrives in whatever order: the table never throws, and a reading is fresh only if a live
 * value in its range came within its limits. The oracle keeps every message and looks back.
 */
import fc from "fast-check";
import { expect, test } from "vitest";
import type { StampSettings } from "../../config/site-settings.ts";
import { PLAIN_FEED, signalOfOne } from "../support/signal.ts";
import { setUpTable, withSensors } from "../support/table.ts";

const STALE_MS = 10_000;
const STAMP: StampSettings = { field: "/t", form: "milliseconds", aheadMaxMs: 5_000 };
const RANGE = { min: 0, max: 100, staleMs: STALE_MS } as const;

const SIGNALS = [
  signalOfOne({ ...RANGE, key: "battery.voltage", ownerId: null, topic: "a", field: "/v" }),
  signalOfOne({
    ...RANGE,
    key: "battery.current",
    ownerId: null,
    topic: "+/b",
    field: "/v",
    stamp: STAMP,
    maxChange: { by: 40, inMs: 1_000 },
    frozenMs: 20_000,
  }),
  withSensors(signalOfOne({ ...RANGE, key: "inverter.power", ownerId: null }), [
    { combine: "alone", feeds: [{ ...PLAIN_FEED, ...RANGE, topic: "c", field: "/v" }] },
    {
      combine: "mean",
      feeds: ["a", "d"].map((topic) => ({ ...PLAIN_FEED, ...RANGE, topic, field: "/w" })),
    },
  ]),
];
/** Topics, and the field in them, from which each may have its value. */
const SOURCES = {
  "battery.voltage": [["a"], "v"],
  "battery.current": [["x/b", "y/b"], "v"],
  "inverter.power": [["c", "a", "d"], "vw"],
} as const;

type Happening =
  | { readonly kind: "message"; readonly topic: string; readonly text: string; isRetained: boolean }
  | { readonly kind: "wait"; readonly ms: number }
  | { readonly kind: "wall"; readonly ms: number }
  | { readonly kind: "cut" };

const number = fc.constantFrom(0, 1, 40, 50, 60, 99, 100, 100.1, -0.1, "50", null, 1e308);
const stamp = fc.oneof(
  fc.constantFrom(null, "now", -1, 1e300),
  fc.constantFrom(-20_000, -STALE_MS - 1, -STALE_MS, -1, 0, 4_999, 5_000, 5_001, 60_000),
);
const document = fc.record({ v: number, w: number, t: stamp }, { requiredKeys: ["t"] });
const happening: fc.Arbitrary<Happening> = fc.oneof(
  {
    weight: 6,
    arbitrary: fc.record({
      kind: fc.constant("message" as const),
      topic: fc.constantFrom("a", "a", "x/b", "x/b", "y/b", "c", "d", "d", "e", "b", "x/b/z", ""),
      text: fc.oneof(
        { weight: 8, arbitrary: document.map((one) => JSON.stringify(one)) },
        { weight: 1, arbitrary: fc.string() },
        { weight: 1, arbitrary: fc.json() },
      ),
      isRetained: fc.constantFrom(false, false, false, true),
    }),
  },
  {
    weight: 2,
    arbitrary: fc.record({
      kind: fc.constant("wait" as const),
      ms: fc.constantFrom(0, 1, 1_000, STALE_MS - 1, STALE_MS, STALE_MS + 1, 20_001),
    }),
  },
  {
    weight: 1,
    arbitrary: fc.record({
      kind: fc.constant("wall" as const),
      ms: fc.constantFrom(0, -3_600_000, 3_600_000, -1e13),
    }),
  },
  { weight: 1, arbitrary: fc.constant({ kind: "cut" as const }) },
);

interface Live {
  readonly topic: string;
  readonly atMs: number;
  readonly text: string;
}

/** What a message says, with stamps relative to the wall clock made absolute. */
function said(text: string, wallMs: number): string {
  try {
    const parsed: unknown = JSON.parse(text);
    if (typeof parsed !== "object" || parsed === null || !("t" in parsed)) return text;
    const { t } = parsed;
    return JSON.stringify({ ...parsed, t: typeof t === "number" ? wallMs + t : t });
  } catch {
    return text;
  }
}

function numbersIn(text: string, fields: string): readonly unknown[] {
  try {
    const parsed: unknown = JSON.parse(text);
    if (typeof parsed !== "object" || parsed === null) return [];
    return Object.entries(parsed).flatMap(([name, value]: [string, unknown]) =>
      fields.includes(name) ? [value] : [],
    );
  } catch {
    return [];
  }
}

function isBelievable(value: unknown): boolean {
  return typeof value === "number" && value >= RANGE.min && value <= RANGE.max;
}

test("fresh only by a live value in its range within its limits; nothing throws", () => {
  const seen = { fresh: 0, other: 0 };
  fc.assert(
    fc.property(fc.array(happening, { minLength: 10, maxLength: 60 }), (happenings) => {
      const { table, clock, say } = setUpTable(SIGNALS);
      const live: Live[] = [];
      let messages = 0;
      for (const one of happenings) {
        if (one.kind === "wait") clock.advance(one.ms);
        else if (one.kind === "wall") clock.setWallMs(clock.wallMs() + one.ms);
        else if (one.kind === "cut") table.cut();
        else {
          const text = said(one.text, clock.wallMs());
          say(one.topic, text, one.isRetained);
          messages += 1;
          if (!one.isRetained) live.push({ topic: one.topic, atMs: clock.monotonicMs(), text });
        }
        for (const key of ["battery.voltage", "battery.current", "inverter.power"] as const) {
          const { quality, value, ageMs } = table.readNumber(key, null);
          if (quality !== "fresh") {
            seen.other += 1;
            continue;
          }
          seen.fresh += 1;
          const [topics, fields] = SOURCES[key];
          const isReason = live.some(
            ({ topic, atMs, text }) =>
              topics.some((source) => source === topic) &&
              numbersIn(text, fields).some(isBelievable) &&
              clock.monotonicMs() - atMs <= STALE_MS,
          );
          expect(isReason).toBe(true);
          expect(isBelievable(value)).toBe(true);
          expect(ageMs).toBeLessThanOrEqual(STALE_MS);
        }
      }
      expect(table.receivedCount()).toBe(messages);
      const own = table.views().reduce((sum, view) => sum + view.ignoredCount, 0);
      const counts = table.ignoredCounts();
      const all = Object.values(counts).reduce((sum, count) => sum + count, 0);
      expect(all).toBe(own + counts["unmapped-topic"]);
    }),
    { seed: 20_260_617, numRuns: 2_000 },
  );
  // A run in which nothing was ever fresh would prove nothing.
  expect(seen.fresh).toBeGreaterThan(2_000);
  expect(seen.other).toBeGreaterThan(2_000);
});
