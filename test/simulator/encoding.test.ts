import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { SignalKey } from "../../config/signals.ts";
import { SIGNALS } from "../../config/signals.ts";
import type { Decoding, SignalSettings } from "../../config/site-settings.ts";
import { UserError } from "../../service/errors.ts";
import { createEncoder } from "../../simulator/encoding.ts";
import type { SignalValue } from "../../simulator/encoding.ts";
import { heardBy } from "../support/heard.ts";
import { feedOf, signalOfOne } from "../support/signal.ts";
import type { SignalOfOne } from "../support/signal.ts";

const WALL_MS = Date.UTC(2026, 5, 15, 10);

function signal(settings: Partial<SignalOfOne>): SignalSettings {
  return signalOfOne({ key: "battery.voltage", ownerId: null, ...settings });
}

describe("messages of the simulated shed", () => {
  it("carry the fields of one topic in one JSON document", () => {
    const percent: Decoding = { kind: "number", scale: 0.01, offset: 0 };
    const encoder = createEncoder([
      signal({ key: "battery.soc", field: "/soc", decoding: percent }),
      signal({ key: "battery.voltage", field: "/dc/v" }),
      signal({ key: "array.{id}.power", ownerId: "roof", topic: "shed/roof/w" }),
      signal({ key: "battery.current", field: "/dc/i" }),
    ]);
    const truth: Partial<Record<SignalKey, number>> = {
      "battery.soc": 0.8712345678,
      "battery.voltage": 53.2,
      "battery.current": -12.5,
      "array.{id}.power": 4210.98765,
    };
    expect(encoder.encode(({ key }) => truth[key] ?? null, WALL_MS)).toEqual([
      { topic: "shed/battery", payload: '{"soc":87.1235,"dc":{"v":53.2,"i":-12.5}}' },
      { topic: "shed/roof/w", payload: "4210.99" },
    ]);
  });

  it("leave out what is not known, and stay away when nothing is", () => {
    const encoder = createEncoder([
      signal({ key: "battery.voltage", field: "/v" }),
      signal({ key: "battery.current", field: "/i" }),
      signal({ key: "inverter.power", topic: "shed/inverter" }),
    ]);
    const known = encoder.encode(({ key }) => (key === "battery.current" ? 3 : null), WALL_MS);
    expect(known).toEqual([{ topic: "shed/battery", payload: '{"i":3}' }]);
    expect(encoder.encode(() => null, WALL_MS)).toEqual([]);
  });

  it.each([
    [[signal({ field: null }), signal({ field: "/v" })], "a plain value and JSON fields"],
    [[signal({ field: "/v" }), signal({ field: "/v" })], "one field for two values"],
    [[signal({ field: "/v" }), signal({ field: "/v/dc" })], "a field inside another value"],
    [[signal({ field: "/v/dc" }), signal({ field: "/v" })], "one field for two values"],
  ])("refuse signals that cannot stand in one message (%#)", (signals, found) => {
    expect(() => createEncoder(signals)).toThrow(UserError);
    expect(() => createEncoder(signals)).toThrow(found);
  });
});

const TOKENS = ["v", "dc", "a/b", "~", "~1", "", "0", "1", "7", "__proto__", "größe", 'a"b', "\\"];
const WORDS = ["1", "0", "on", "off", "true", "false", "null", "01", "1.0", "-0", "1e3", "è", '"'];

const pointer = fc
  .array(fc.constantFrom(...TOKENS), { maxLength: 3 })
  .map((tokens) =>
    tokens.map((token) => `/${token.replaceAll("~", "~0").replaceAll("/", "~1")}`).join(""),
  );

const scale = fc.oneof(
  fc.constantFrom(1, -1, 0.001, 0.01, 1000, 5 / 9),
  fc.double({ min: 1e-4, max: 1e4, noNaN: true }),
);

function tableOf<T>(values: readonly T[]): fc.Arbitrary<Record<string, T>> {
  return fc
    .shuffledSubarray(WORDS, { minLength: values.length, maxLength: values.length })
    .map((words) => Object.fromEntries(words.map((word, index) => [word, values[index]!])));
}

/** A decoding that fits the key, with a value that the key may have. */
function decodingFor(
  key: SignalKey,
): fc.Arbitrary<{ readonly decoding: Decoding; readonly value: SignalValue }> {
  const { type, min, max } = SIGNALS[key];
  if (type === "boolean") {
    return fc.record({
      decoding: tableOf([true, false]).map((table) => ({ kind: "booleanTable" as const, table })),
      value: fc.boolean(),
    });
  }
  if (type === "chargeStage") {
    const stages = ["bulk", "absorption", "float", "equalise"] as const;
    return fc.record({
      decoding: tableOf(stages).map((table) => ({ kind: "stageTable" as const, table })),
      value: fc.constantFrom(...stages),
    });
  }
  const number = fc.record({
    decoding: fc.record({
      kind: fc.constant("number" as const),
      scale,
      offset: fc.constantFrom(0, -273.15, -160 / 9, 32),
    }),
    value: fc.oneof(
      fc.constantFrom(min, max, 0),
      fc.double({ min, max, noNaN: true }),
      fc.integer({ min: Math.ceil(min), max: Math.floor(max) }),
    ),
  });
  if (key !== "load.{id}.report") return number;
  const counted = fc.record({
    decoding: tableOf([0, 1, 2]).map((table) => ({ kind: "numberTable" as const, table })),
    value: fc.constantFrom(0, 1, 2),
  });
  const switched = fc.record({
    decoding: fc.constant({ kind: "aboveZero" as const }),
    value: fc.constantFrom(0, 1),
  });
  return fc.oneof(
    { weight: 2, arbitrary: counted },
    { weight: 2, arbitrary: switched },
    { weight: 1, arbitrary: number },
  );
}

interface Case {
  readonly signal: SignalSettings;
  readonly value: SignalValue;
}

const oneCase: fc.Arbitrary<Case> = fc
  .constantFrom(...(Object.keys(SIGNALS) as SignalKey[]))
  .chain((key) =>
    fc
      .record({
        signal: fc.record({
          ownerId: fc.constantFrom("roof", "east-roof", "x"),
          topic: fc.constantFrom("shed/a", "shed/b", "shed/c", "shed/d"),
          field: fc.oneof(fc.constant(null), pointer),
        }),
        fitting: decodingFor(key),
      })
      .map(({ signal: place, fitting }) => ({
        signal: signal({
          ...place,
          key,
          ownerId: key.includes("{id}") ? place.ownerId : null,
          decoding: fitting.decoding,
        }),
        value: fitting.value,
      })),
  );

/** The first of those that can stand beside the ones before, as a checked settings file has it. */
function compatible(cases: readonly Case[]): readonly Case[] {
  const kept: Case[] = [];
  for (const one of cases) {
    const isSame = kept.some(
      ({ signal: { key, ownerId } }) => key === one.signal.key && ownerId === one.signal.ownerId,
    );
    if (isSame) continue;
    try {
      createEncoder([...kept, one].map((each) => each.signal));
      kept.push(one);
    } catch (error) {
      if (!(error instanceof UserError)) throw error;
    }
  }
  return kept;
}

/** Half a unit of the sixth digit of the published number, in SI units, and rounding errors. */
function tolerance(value: number, { scale, offset }: { scale: number; offset: number }): number {
  return Math.abs(value - offset) * 5.1e-6 + 1e-9 * Math.abs(scale);
}

describe("decoding by the daemon", () => {
  it("gives back what any mapping has encoded, within the published digits", () => {
    const seen = {
      number: 0,
      aboveZero: 0,
      numberTable: 0,
      booleanTable: 0,
      stageTable: 0,
      nested: 0,
    };
    fc.assert(
      fc.property(fc.array(oneCase, { minLength: 1, maxLength: 12 }).map(compatible), (cases) => {
        const signals = cases.map((one) => one.signal);
        const truth = new Map(cases.map((one) => [one.signal, one.value]));
        const messages = createEncoder(signals).encode(
          (wanted) => truth.get(wanted) ?? null,
          WALL_MS,
        );
        const heard = heardBy(signals, messages, WALL_MS);
        expect(heard).toHaveLength(cases.length);
        for (const { signal: mapped, value: result, ignoredCounts } of heard) {
          const value = truth.get(mapped)!;
          const { decoding, field } = feedOf(mapped);
          seen[decoding.kind] += 1;
          if ((field ?? "").split("/").length > 2) seen.nested += 1;
          expect([mapped.key, ignoredCounts]).toEqual([mapped.key, {}]);
          if (typeof value === "number" && decoding.kind === "number") {
            const error = Math.abs(Number(result) - value);
            expect(error).toBeLessThanOrEqual(tolerance(value, decoding));
          } else expect(result).toBe(value);
        }
      }),
      { seed: 20260302, numRuns: 3_000 },
    );
    // A generator that never made a kind would prove nothing about it.
    for (const count of Object.values(seen)) expect(count).toBeGreaterThan(100);
  });
});
