import { expect, test } from "vitest";
import { createRandom } from "../../simulator/weather/random.ts";

test("the same seed gives the same numbers, another seed others", () => {
  const first = createRandom(7);
  const same = createRandom(7);
  const other = createRandom(8);
  const numbers = Array.from({ length: 100 }, () => first.uniform());
  expect(Array.from({ length: 100 }, () => same.uniform())).toEqual(numbers);
  expect(Array.from({ length: 100 }, () => other.uniform())).not.toEqual(numbers);
});

test("numbers are evenly spread and neighbours do not depend on each other", () => {
  const random = createRandom(20120517);
  const tenths = new Float64Array(10);
  let product = 0;
  let before = random.uniform();
  const n = 100_000;
  for (let i = 0; i < n; i += 1) {
    const value = random.uniform();
    const tenth = Math.floor(value * 10);
    tenths[tenth] = (tenths[tenth] ?? 0) + 1;
    product += (value - 0.5) * (before - 0.5);
    before = value;
  }
  // Four standard deviations of a fair generator: √(n·0.1·0.9) and √n / 12.
  for (const count of tenths)
    expect(Math.abs(count - n / 10)).toBeLessThan(4 * Math.sqrt(n * 0.09));
  expect(Math.abs(product)).toBeLessThan((4 * Math.sqrt(n)) / 12);
});

test("exponential waiting times have the asked mean", () => {
  const random = createRandom(1);
  let sum = 0;
  for (let i = 0; i < 20_000; i += 1) sum += random.exponential(5);
  expect(sum / 20_000).toBeCloseTo(5, 0);
});
