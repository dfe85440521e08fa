import fc from "fast-check";
import { expect, test } from "vitest";
import { loadSite } from "../../../config/load.ts";
import { createLocalCalendar } from "../../../config/local-calendar.ts";
import { computeBound } from "../../../simulator/bound/bound.ts";
import { likelyBasis } from "../../../simulator/bound/likely-basis.ts";
import { createProgramme } from "../../../simulator/bound/programme.ts";
import type { Programme } from "../../../simulator/bound/programme.ts";
import { solve } from "../../../simulator/bound/solve.ts";
import { syntheticDay } from "../../../simulator/weather/synthetic-day.ts";

const DAYS = 30;
const STEPS = 6;

interface Day {
  readonly inflow: number;
  readonly price: number;
}

/** A reservoir: what flows in may be sold at each day's price, or kept, as far as there is room. */
function reservoir(days: readonly Day[], leastAtEnd: number): Programme {
  const programme = createProgramme();
  let held = programme.column({ lower: 5, upper: 5 });
  for (const [d, { inflow, price }] of days.entries()) {
    if (d > 0) programme.cut();
    for (let s = 0; s < STEPS; s += 1) {
      const before = held;
      const isLast = d === days.length - 1 && s === STEPS - 1;
      held = programme.column({ lower: isLast ? leastAtEnd : 0, upper: 10 });
      const sold = programme.column({ lower: 0, upper: 2, worth: price });
      programme.atMost(inflow, [
        [held, 1],
        [before, -1],
        [sold, 1],
      ]);
    }
  }
  return programme.build();
}

const day = fc.record({
  inflow: fc.double({ min: 0, max: 3, noNaN: true }),
  price: fc.double({ min: 0, max: 4, noNaN: true }),
});
const days = fc.array(day, { minLength: DAYS, maxLength: DAYS });

const silent = { onIterations: () => undefined };

test("begun from a rolling plan or from nothing, the best is the same", async () => {
  await fc.assert(
    fc.asyncProperty(days, async (list) => {
      const programme = reservoir(list, 0);
      const inParts = await solve(programme, silent);
      const whole = await solve({ ...programme, cuts: [] }, silent);
      expect(inParts.status).toBe("optimal");
      expect(inParts.worth).toBeCloseTo(whole.worth, 6);
    }),
    { numRuns: 25 },
  );
});

test("three weeks of a shed are finished in a quarter of the steps", async () => {
  const site = loadSite({ path: new URL("../../evidence/malga.yaml", import.meta.url).pathname });
  const list = Array.from({ length: 21 }, (_, d) => {
    const localDate = new Date(Date.UTC(2025, 4, 1 + d)).toISOString().slice(0, 10);
    return syntheticDay({ site, localDate, seed: d, kind: d % 3 === 0 ? "clear" : "broken" });
  });
  const calendar = createLocalCalendar(site.timeZone);
  const shed = { site, days: list, calendar, stepS: 60, startFraction: 0.8, plant: null };
  await computeBound({ ...shed, mayBridge: false }, async (programme) => {
    expect(programme.cuts).toHaveLength(20);
    const inParts = await solve(programme, silent);
    const whole = await solve({ ...programme, cuts: [] }, silent);
    expect(Math.abs(inParts.worth / whole.worth - 1)).toBeLessThan(1e-9);
    expect(whole.lastIterations).toBeGreaterThan(1000);
    expect(inParts.lastIterations).toBeLessThan(whole.lastIterations / 4);
    return inParts;
  });
});

test("a plan that runs into the ground shows no way, and the best is found without it", async () => {
  // The last week asks for more than a plan without foresight has kept.
  const list = Array.from({ length: DAYS }, (_, d) => ({ inflow: d < 15 ? 1 : 0, price: 1 }));
  const programme = reservoir(list, 9.5);
  let parts = 0;
  const basis = likelyBasis(programme, 1, () => {
    parts += 1;
    return parts < 3 ? emptySolution(programme) : null;
  });
  expect(basis).toBeNull();
  const { status, worth } = await solve(programme, silent);
  expect(status).toBe("optimal");
  expect(worth).toBeCloseTo(5 + 15 * STEPS - 9.5, 6);
});

function emptySolution({ columnCount, rowCount }: Programme) {
  const basis = { colStatus: new Int32Array(columnCount), rowStatus: new Int32Array(rowCount) };
  return { basis, columns: new Float64Array(columnCount) };
}

test("few days are solved in one piece", () => {
  const list = Array.from({ length: 10 }, () => ({ inflow: 1, price: 1 }));
  expect(likelyBasis(reservoir(list, 0), 1, () => expect.fail("in parts"))).toBeNull();
});
