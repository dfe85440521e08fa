import { describe, expect, it } from "vitest";
import { hasHeld, heldRemainingMs, heldSince } from "../../service/control/blocks/held-since.ts";
import { heatingHysteresis } from "../../service/control/blocks/hysteresis.ts";
import { windowRemainingMs, withinWindow } from "../../service/control/blocks/rolling-count.ts";

describe("a condition held in time", () => {
  it("is off at first while the condition is false, on at first with no delay", () => {
    expect(hasHeld(heldSince(null, false, 100), 0, 100)).toBe(false);
    expect(hasHeld(heldSince(null, true, 100), 0, 100)).toBe(true);
  });

  it.each([
    [999, false],
    [1000, true],
    [1001, true],
  ])("with a delay of 1000 ms is %i ms later: %s", (laterMs, expected) => {
    const sinceMs = heldSince(null, true, 50);
    expect(hasHeld(heldSince(sinceMs, true, 50 + laterMs), 1000, 50 + laterMs)).toBe(expected);
  });

  it("acts at once on a delay that is changed while it runs", () => {
    const sinceMs = heldSince(null, true, 0);
    expect(hasHeld(sinceMs, 1000, 600)).toBe(false);
    expect(hasHeld(sinceMs, 500, 600)).toBe(true);
  });

  it("is not begun anew by being asked again", () => {
    expect(heldSince(heldSince(null, true, 10), true, 900)).toBe(10);
  });

  it("is cancelled by one moment of the contrary", () => {
    const broken = heldSince(heldSince(null, true, 10), false, 500);
    expect(broken).toBeNull();
    expect(heldSince(broken, true, 600)).toBe(600);
  });

  it("tells how long it still has to hold", () => {
    expect(heldRemainingMs(null, 1000, 5)).toBeNull();
    expect(heldRemainingMs(0, 1000, 400)).toBe(600);
    expect(heldRemainingMs(0, 1000, 4000)).toBe(0);
  });
});

describe("heating hysteresis", () => {
  it.each([
    [true, 59.9, true],
    [true, 60, false],
    [false, 56.1, false],
    [false, 56, true],
    [true, 58, true],
    [false, 58, false],
  ])("was %s, at %d °C: %s", (was, value, expected) => {
    expect(heatingHysteresis(was, { value, onAt: 56, offAt: 60 })).toBe(expected);
  });
});

describe("a rolling count", () => {
  it("drops what is as old as the window", () => {
    expect(withinWindow([0, 1, 500], 1000, 999)).toEqual([0, 1, 500]);
    expect(withinWindow([0, 1, 500], 1000, 1000)).toEqual([1, 500]);
    expect(withinWindow([], 1000, 5)).toEqual([]);
  });

  it("tells when there is room again", () => {
    const input = { limit: 2, windowMs: 1000, nowMs: 700 };
    expect(windowRemainingMs([100], input)).toBe(0);
    expect(windowRemainingMs([100, 300], input)).toBe(400);
    expect(windowRemainingMs([100, 300, 600], input)).toBe(600);
  });
});
