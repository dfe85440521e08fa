import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { heldClearness } from "../../service/control/held-clearness.ts";
import type { ClearnessRange } from "../../service/control/held-clearness.ts";

const HOUR_MS = 3_600_000;
const at = (clearness: number, givenFraction = 0.1, forMs = 0): ClearnessRange =>
  heldClearness({ clearness, forMs, givenFraction });

describe("clearness that is held while it cannot be seen", () => {
  it("stays near a bright sky that was seen just now", () => {
    const { low, middle, high } = at(0.99);
    expect(low).toBeGreaterThan(0.9);
    expect(middle).toBeCloseTo(0.99, 6);
    expect(high).toBe(middle);
  });

  it("takes the sky for bright again after a shadow, but not for sure", () => {
    const { low, middle } = at(0.35);
    expect(middle).toBeGreaterThan(0.9);
    expect(low).toBeLessThan(0.35);
  });

  it("is the less sure of a bright sky the longer ago that was, up to three hours", () => {
    expect(at(0.99, 0.1, HOUR_MS).low).toBeLessThan(at(0.99).low - 0.05);
    expect(at(0.99, 0.1, 2 * HOUR_MS).low).toBeLessThan(at(0.99, 0.1, HOUR_MS).low - 0.05);
    expect(at(0.99, 0.1, 9 * HOUR_MS)).toStrictEqual(at(0.99, 0.1, 3 * HOUR_MS));
  });

  it("knows that it is brighter where more is given", () => {
    for (const clearness of [0.2, 0.6, 0.9]) {
      expect(at(clearness, 0.7, HOUR_MS).low).toBeGreaterThan(
        at(clearness, 0.3, HOUR_MS).low + 0.1,
      );
    }
  });

  it("does not hold on to the rim of a cloud", () => {
    expect(at(1.3).middle).toBeLessThan(1.2);
  });

  it("is in order for any clearness, time and power, and never under what is given", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 3, noNaN: true }),
        fc.double({ min: 0, max: 1.3, noNaN: true }),
        fc.integer({ min: -1, max: 86_400_000 }),
        (clearness, givenFraction, forMs) => {
          const range = at(clearness, givenFraction, forMs);
          const { low, start, middle, high, abovePeakFraction } = range;
          expect(low).toBeGreaterThanOrEqual(Math.min(givenFraction, middle));
          expect(low).toBeLessThanOrEqual(start);
          expect(start).toBeLessThanOrEqual(middle);
          expect(middle).toBeLessThanOrEqual(high);
          expect(abovePeakFraction).toBeGreaterThan(0);
        },
      ),
    );
  });

  it("never says less for more that is given", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 1.2, noNaN: true }),
        fc.double({ min: 0, max: 0.9, noNaN: true }),
        fc.double({ min: 0, max: 0.3, noNaN: true }),
        fc.integer({ min: 0, max: 86_400_000 }),
        (clearness, given, more, forMs) => {
          const less = at(clearness, given, forMs);
          const brighter = at(clearness, given + more, forMs);
          expect(brighter.low).toBeGreaterThanOrEqual(less.low - 1e-12);
          expect(brighter.start).toBeGreaterThanOrEqual(less.start - 1e-12);
        },
      ),
    );
  });
});
