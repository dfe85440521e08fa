import { expect, test } from "vitest";
import { createProgramme } from "../../../simulator/bound/programme.ts";
import { solve } from "../../../simulator/bound/solve.ts";

const silent = { onIterations: () => undefined };

test("a workshop's best week, worked by hand: 5 kg of one and 6 kg of the other", async () => {
  // 3x + 2y, x + y ≤ 11, 2x + y ≤ 16: the corner is (5, 6).
  const programme = createProgramme();
  const x = programme.column({ lower: 0, upper: Infinity, worth: 3 });
  const y = programme.column({ lower: 0, upper: Infinity, worth: 2 });
  programme.atMost(11, [
    [x, 1],
    [y, 1],
  ]);
  programme.atMost(16, [
    [x, 1],
    [y, 1],
    [x, 1],
  ]);
  const { status, worth, gap, columns } = await solve(programme.build(), silent);
  expect(status).toBe("optimal");
  expect(worth).toBeCloseTo(27, 9);
  expect(gap).toBeLessThan(1e-6);
  expect([...columns].map((value) => Math.round(value * 1e6) / 1e6)).toEqual([5, 6]);
});

test("what cannot be is said to be so", async () => {
  const programme = createProgramme();
  const x = programme.column({ lower: 2, upper: 9, worth: 1 });
  programme.atMost(1, [[x, 1]]);
  expect((await solve(programme.build(), silent)).status).toBe("infeasible");
});

test("what has no end is not solved", async () => {
  const programme = createProgramme();
  programme.column({ lower: 0, upper: Infinity, worth: 1 });
  expect((await solve(programme.build(), silent)).status).toBe("unsolved");
});
