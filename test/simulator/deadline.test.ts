/** A deadline over whole days of a simulated shed, under a sky that gives it nothing to spare. */
import { describe, expect, it } from "vitest";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { loadSite } from "../../config/load.ts";
import { step } from "../../service/control/step.ts";
import { replay } from "../../simulator/replay.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";

const BY_MINUTE = 18 * 60 + 30;

/** Warmest that the tank was in the ten minutes before half past six, on each day. [°C] */
function livesWith(deadline: string | null) {
  const overrides = deadline === null ? [] : [`loads.water-heater.deadline=${deadline}`];
  const site = loadSite({ path: "config/examples/malga.yaml", overrides });
  const days = [12, 13, 14].map((day) =>
    syntheticDay({ site, localDate: `2026-06-${day}`, seed: day, kind: "overcast" }),
  );
  const warmC = new Map<number, number>();
  let leastFraction = 1;
  const codes = new Map<number, Set<string>>();
  const report = replay({
    site,
    days,
    step,
    calendar: createLocalCalendar(site.timeZone),
    stepS: 60,
    startFraction: 0.92,
    mayBridge: false,
    plant: null,
    onDecision: ({ verdicts }, { localDay }) => {
      const seen = codes.get(localDay) ?? new Set();
      codes.set(localDay, seen.add(verdicts[0]!.code));
    },
    onStep: ({ localDay, localMinute, truth, decision }) => {
      const { tankTemperatureC, socFraction } = truth;
      if (decision.loadStages[0] !== 0) leastFraction = Math.min(leastFraction, socFraction);
      if (localMinute < BY_MINUTE - 10 || localMinute >= BY_MINUTE) return;
      warmC.set(localDay, Math.max(warmC.get(localDay) ?? 0, tankTemperatureC[0]!));
    },
  });
  const lateDays = [...codes.values()].map((seen) =>
    [...seen].some((one) => one.startsWith("late")),
  );
  return { warmC: [...warmC.values()], leastFraction, lateDays, codes, report };
}

describe("a deadline under three overcast days", () => {
  const without = livesWith(null);

  it("would not be met by surplus alone", () => {
    expect(Math.min(...without.warmC)).toBeLessThan(45);
  });

  it("is met by the battery, or is told to be late where that is down to what it may give", () => {
    const lived = livesWith('{ by: "18:30", reach: 50 °C, mayDrawTo: 62 % }');
    // What has been ready is heated again from two kelvins on.
    expect(lived.warmC.map((temperatureC) => temperatureC > 48)).toEqual([true, true, false]);
    expect(lived.lateDays).toEqual([false, false, true]);
    expect(lived.leastFraction).toBeGreaterThan(0.61);
    expect(lived.report.totals.divertedWh).toBeGreaterThan(without.report.totals.divertedWh);
  });

  it("that may draw on nothing changes no run, and says that it will be late", () => {
    const lived = livesWith('{ by: "18:30", reach: 50 °C }');
    expect(lived.report.totals).toEqual(without.report.totals);
    expect(lived.lateDays).toEqual([true, true, true]);
  });
});
