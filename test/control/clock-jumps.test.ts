/** The wall clock leaps: rests, dwells, minimum runs and interlocks go by the other clock. */
import { describe, expect, it, test } from "vitest";
import type { Observation } from "../../service/control/observation.ts";
import { createShed } from "../history/day-of-ticks.ts";
import type { Shed } from "../history/day-of-ticks.ts";

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const TICKS_BEFORE = 300;
const TICKS_AFTER = 900;

/** Stages at each tick, with the clock that far off from a tick on. */
function stagesUnder(over: (plain: Observation) => Partial<Observation>): string[] {
  const plain = createShed();
  const shed: Shed = createShed();
  return Array.from({ length: TICKS_BEFORE + TICKS_AFTER }, (_, count) => {
    const { observation } = plain.tick();
    const { decision } = shed.tick(count < TICKS_BEFORE ? {} : over(observation));
    return decision.loadStages.join(" ");
  });
}

const untouched = stagesUnder(() => ({}));

it("loads start and stop in the run that leaps are held against", () => {
  expect(new Set(untouched).size).toBeGreaterThan(2);
});

describe("the same decisions at the same ticks", () => {
  test.each([
    ["an hour on", HOUR_MS],
    ["an hour back", -HOUR_MS],
    ["a day on", DAY_MS],
    ["a day back", -DAY_MS],
    ["a year on", 365 * DAY_MS],
    ["a year back", -365 * DAY_MS],
  ])("%s", (_what, leapMs) => {
    const stages = stagesUnder(({ wallMs, localDay, localMinute }) => {
      const minutes = localMinute + (leapMs % DAY_MS) / 60_000;
      return {
        wallMs: wallMs + leapMs,
        localDay: localDay + Math.trunc(leapMs / DAY_MS),
        localMinute: minutes,
      };
    });
    expect(stages).toEqual(untouched);
  });

  test("1970 at boot, and then right", () => {
    const isWrong = stagesUnder(() => ({
      wallMs: 12_000,
      localDay: 0,
      localMinute: 60,
      isWallClockPlausible: false,
    }));
    // No load of these has hours; the fixed rule curve and the timers go on.
    expect(isWrong.slice(0, TICKS_BEFORE)).toEqual(untouched.slice(0, TICKS_BEFORE));
    expect(new Set(isWrong.slice(TICKS_BEFORE)).size).toBeGreaterThan(1);
  });
});
