import { expect, test } from "vitest";
import { combinations } from "../../../simulator/tune/combinations.ts";
import { readVary } from "../../../simulator/tune/vary.ts";

test.each([
  ["a=0..6%", ["0 %", "1.5 %", "3 %", "4.5 %", "6 %"]],
  ["a=86 % .. 96 % by 5 %", ["86 %", "91 %", "96 %"]],
  ["a=1..3 by 1", ["1", "2", "3"]],
  ["a=-2..2 °C by 2", ["-2 °C", "0 °C", "2 °C"]],
  ["a=90 %, 95 %", ["90 %", "95 %"]],
  ["a=0.1..0.3 by 0.1", ["0.1", "0.2", "0.3"]],
])("%s", (written, values) => {
  expect(readVary(written)).toEqual({ key: "a", values });
});

test.each(["a", "=0..6%", "a=", "a=6..0%", "a=0..6% by 0%", "a=1 W..2 kW", "a=0..x%", "a=3 %"])(
  "%s is refused, with an example",
  (written) => {
    expect(() => readVary(written)).toThrow(/\[vary\][\s\S]*aboveRuleCurve=0\.\.6%/u);
  },
);

const varied = [
  { key: "a", values: ["1", "2", "3"] },
  { key: "b", values: ["x", "y"] },
];

test("all combinations where they are few", () => {
  const all = combinations(varied, { most: 6, seed: 1 });
  expect(all).toHaveLength(6);
  expect(new Set(all.map((one) => one.join())).size).toBe(6);
  expect(all).toContainEqual(["a=3", "b=y"]);
});

test("of many so many as are wanted, no two alike, the same for the same seed", () => {
  const draw = (seed: number) => combinations(varied, { most: 4, seed });
  expect(new Set(draw(5).map((one) => one.join())).size).toBe(4);
  expect(draw(5)).toEqual(draw(5));
  const different = [1, 2, 3, 4, 5].map((seed) => JSON.stringify(draw(seed)));
  expect(new Set(different).size).toBeGreaterThan(1);
});
