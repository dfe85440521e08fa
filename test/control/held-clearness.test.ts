import { describe, expect, it } from "vitest";
import { heldClearness } from "../../service/control/held-clearness.ts";

const at = (past: readonly (number | null)[], clearness: number, forMs = 0) =>
  heldClearness({ past }, { clearness, forMs });

describe("clearness that is held while it cannot be seen", () => {
  it("stays near a steady bright sky", () => {
    const { low, middle, high } = at([0.95, 0.94, 0.95, 0.96], 0.95);
    expect(low).toBeGreaterThan(0.9);
    expect(middle).toBeCloseTo(0.97, 2);
    expect(high).toBeLessThan(1.25);
  });

  it("has its middle drawn to the usual sky from a dull one, but not its low end", () => {
    const { low, middle } = at([0.35, 0.35, 0.36], 0.35);
    expect(middle).toBeGreaterThan(0.8);
    expect(low).toBeLessThan(0.45);
  });

  it("has its widest range from a broken sky", () => {
    const broken = at([0.4, 0.9, 0.5, 1], 0.9);
    const bright = at([0.9, 0.9, 0.9, 0.9], 0.9);
    expect(broken.high - broken.low).toBeGreaterThan(bright.high - bright.low);
  });

  it("takes a single sight, and one before a gap, for a broken sky", () => {
    const single = at([], 0.9);
    expect(single).toStrictEqual(at([null, 0.9, 0.9, 0.9], 0.9));
    expect(single).toStrictEqual(at([0.4, 0.9, 0.5, 1], 0.9));
  });

  it("is in order for any clearness and time", () => {
    for (const clearness of [0, 0.2, 0.5, 0.8, 0.98, 1, 1.3, 3]) {
      for (const past of [[], [clearness, clearness], [0.1, 1.2]]) {
        for (const forMs of [-1, 0, 60_000, 86_400_000]) {
          const { low, middle, high } = at(past, clearness, forMs);
          expect(low).toBeLessThanOrEqual(middle);
          expect(middle).toBeLessThanOrEqual(high);
          expect(low).toBeGreaterThanOrEqual(0);
        }
      }
    }
  });
});
