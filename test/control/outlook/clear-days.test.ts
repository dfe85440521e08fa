/** The outlook's hours on the two days a year on which clocks are put forward or back. */
import { describe, expect, test } from "vitest";
import { createLocalCalendar } from "../../../config/local-calendar.ts";
import { clearDaysAt, clearPowerAt } from "../../../service/control/outlook/clear-days.ts";
import type { ClearDays } from "../../../service/control/outlook/clear-days.ts";
import type { Observation } from "../../../service/control/observation.ts";
import { HOUR_MS, MINUTE_MS, observe } from "../given.ts";
import { outlookSite } from "./given.ts";

const STEP_MS = 5 * MINUTE_MS;
const settings = outlookSite();
const rome = createLocalCalendar("Europe/Rome");

function seenAt(wallMs: number): Observation {
  return observe(settings, 0, { over: { wallMs, ...rome(wallMs) } });
}

describe.each([
  ["forward", "2026-03-28T23:00:00Z", 23],
  ["back", "2026-10-24T22:00:00Z", 25],
])("clocks put %s", (_, from, hours) => {
  test("count from midnight as the clock does, and the sun stays where it is", () => {
    const startMs = Date.parse(from);
    let before: ClearDays | null = null;
    const made = new Set<ClearDays>();
    const started = clearDaysAt(null, seenAt(startMs), settings);
    let mostW = 0;
    for (let atMs = 0; atMs < hours * HOUR_MS; atMs += STEP_MS) {
      const wallMs = startMs + atMs;
      before = clearDaysAt(before, seenAt(wallMs), settings);
      made.add(before);
      expect((wallMs - before.midnightMs) / MINUTE_MS).toBe(rome(wallMs).localMinute);
      mostW = Math.max(mostW, clearPowerAt(before, wallMs));
      expect(clearPowerAt(before, wallMs)).toBeCloseTo(clearPowerAt(started, wallMs), 6);
    }
    expect(made.size).toBe(2);
    expect(mostW).toBeGreaterThan(1000);
  });
});
