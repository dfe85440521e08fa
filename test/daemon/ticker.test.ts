import { expect, test } from "vitest";
import { createTicker } from "../../service/ticker.ts";
import { createManualClock } from "../support/manual-clock.ts";

function setUp(onTick: () => void = () => undefined) {
  const clock = createManualClock();
  const startMs = clock.monotonicMs();
  const at: number[] = [];
  const ticker = createTicker({
    clock,
    tickMs: 2_000,
    onTick: () => {
      at.push(clock.monotonicMs() - startMs);
      onTick();
    },
  });
  return { clock, ticker, at };
}

test("ticks at once, then at its own pace", () => {
  const { clock, ticker, at } = setUp();
  ticker.start();
  clock.advance(6_000);
  expect(at).toEqual([0, 2_000, 4_000, 6_000]);
  expect(ticker.overrunCount()).toBe(0);
});

test("many requests make one early tick, and the pace is kept", () => {
  const { clock, ticker, at } = setUp();
  ticker.start();
  clock.advance(500);
  for (let count = 0; count < 10; count += 1) ticker.requestEarly();
  clock.advance(1_500);
  expect(at).toEqual([0, 500, 2_000]);
});

test.each([
  [1, 20],
  [19, 20],
  [20, 20],
  [21, 21],
])("requested %d ms after a tick, the next starts after %d ms", (askedMs, startMs) => {
  const { clock, ticker, at } = setUp();
  ticker.start();
  clock.advance(askedMs);
  ticker.requestEarly();
  clock.advance(100);
  expect(at).toEqual([0, startMs]);
});

test("two ticks never start closer than 20 ms, also around the regular one", () => {
  const { clock, ticker, at } = setUp();
  ticker.start();
  for (let ms = 0; ms < 10_000; ms += 7) {
    ticker.requestEarly();
    clock.advance(7);
  }
  const gaps = at.slice(1).map((ms, index) => ms - (at[index] ?? 0));
  expect(gaps.length).toBeGreaterThan(400);
  expect(Math.min(...gaps)).toBeGreaterThanOrEqual(20);
});

test("a tick that takes too long is counted, and those missed are not made up for", () => {
  let isSlow = false;
  const { clock, ticker, at } = setUp(() => {
    if (!isSlow) return;
    isSlow = false;
    clock.advance(7_000);
  });
  ticker.start();
  clock.advance(1_999);
  isSlow = true;
  clock.advance(1);
  clock.advance(3_000);
  expect(at).toEqual([0, 2_000, 9_000, 10_000, 12_000]);
  expect(ticker.overrunCount()).toBe(1);
});

test("stopped is stopped", () => {
  const { clock, ticker, at } = setUp();
  ticker.start();
  clock.advance(100);
  ticker.requestEarly();
  ticker.stop();
  ticker.requestEarly();
  clock.advance(10_000);
  expect(at).toEqual([0]);
});
