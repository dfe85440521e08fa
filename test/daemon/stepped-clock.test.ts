import { describe, expect, it } from "vitest";
import { createSteppedClock } from "../../service/stepped-clock.ts";

describe("the stepped clock", () => {
  it("stands still by itself, and wall and monotonic time go together", () => {
    const clock = createSteppedClock(1_000_000);
    expect([clock.monotonicMs(), clock.wallMs()]).toEqual([0, 1_000_000]);
    clock.advanceTo(2_500);
    expect([clock.monotonicMs(), clock.wallMs()]).toEqual([2_500, 1_002_500]);
  });

  it("runs callbacks at their own instant, in the order in which they are due", () => {
    const clock = createSteppedClock(0);
    const ran: string[] = [];
    const note = (name: string) => () => ran.push(`${name}@${clock.monotonicMs()}`);
    clock.schedule(30, note("late"));
    clock.schedule(10, note("first"));
    clock.schedule(10, note("second"));
    clock.schedule(31, note("beyond"));
    clock.advanceTo(30);
    expect(ran).toEqual(["first@10", "second@10", "late@30"]);
    expect(clock.nextDueMs()).toBe(31);
  });

  it("runs what a callback asks for within the same span", () => {
    const clock = createSteppedClock(0);
    const ticks: number[] = [];
    const tick = (): void => {
      ticks.push(clock.monotonicMs());
      clock.schedule(2_000, tick);
    };
    clock.schedule(0, tick);
    clock.advanceTo(6_000);
    expect(ticks).toEqual([0, 2_000, 4_000, 6_000]);
  });

  it("forgets what was cancelled, even by a callback of the same instant", () => {
    const clock = createSteppedClock(0);
    const ran: string[] = [];
    let cancelSecond = (): void => undefined;
    clock.schedule(5, () => {
      ran.push("first");
      cancelSecond();
    });
    cancelSecond = clock.schedule(5, () => ran.push("second"));
    clock.advanceTo(10);
    expect(ran).toEqual(["first"]);
    expect(clock.nextDueMs()).toBeNull();
  });

  it("refuses to go back, and to run for ever within one instant", () => {
    const clock = createSteppedClock(0);
    clock.advanceTo(5);
    expect(() => clock.advanceTo(4)).toThrow("does not go back");
    const again = (): void => {
      clock.schedule(0, again);
    };
    again();
    expect(() => clock.advanceTo(6)).toThrow("does not get on");
  });
});
