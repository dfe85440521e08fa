import { describe, expect, it } from "vitest";
import { demandGap } from "../../service/control/demand.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { LoadMemory } from "../../service/control/memory.ts";
import type { LoadSettings } from "../../service/control/settings.ts";
import { load, loadObservation, MINUTE_MS, observe, site } from "./given.ts";

function gapAt(minute: number, over: Partial<LoadSettings>, isPlausible = true): string | null {
  const settings = site({ loads: [load(over)] });
  const [memory] = initialMemory(settings, 0).loads;
  const observation = observe(settings, 0, {
    over: { localMinute: minute, isWallClockPlausible: isPlausible },
  });
  if (memory === undefined) throw new Error("the site has one load");
  const both = { site: observation, load: loadObservation() };
  return demandGap(memory, both, load(over))?.code ?? null;
}

describe("hours of a load", () => {
  const day = { windows: [{ fromMinute: 600, toMinute: 840 }] };
  const night = { windows: [{ fromMinute: 1320, toMinute: 300 }] };

  it.each([
    [599, day, "outside-window"],
    [600, day, null],
    [839, day, null],
    [840, day, "outside-window"],
    [1319, night, "outside-window"],
    [1320, night, null],
    [0, night, null],
    [299, night, null],
    [300, night, "outside-window"],
  ])("at minute %i", (minute, over, expected) => {
    expect(gapAt(minute, over)).toBe(expected);
  });

  it("are closed while the clock is in doubt; a load without hours does not care", () => {
    expect(gapAt(700, day, false)).toBe("outside-window");
    expect(gapAt(700, {}, false)).toBeNull();
  });
});

describe("a quota", () => {
  const gapOf = (over: Partial<LoadSettings>, had: Partial<LoadMemory>): string | null => {
    const settings = site({ loads: [load(over)] });
    const [memory] = initialMemory(settings, 0).loads;
    if (memory === undefined) throw new Error("the site has one load");
    const both = { site: observe(settings, 0, {}), load: loadObservation() };
    return demandGap({ ...memory, ...had }, both, load(over))?.code ?? null;
  };
  const minutes = { quotaRunMs: 90 * MINUTE_MS, minRunMs: 20 * MINUTE_MS, stagesW: [600] };
  const energy = { quotaEnergyWh: 1000, minRunMs: 20 * MINUTE_MS, stagesW: [600, 1200] };

  it.each<[number, number, string | null]>([
    [0, 0, null],
    [0, 70 * MINUTE_MS, null],
    [0, 70 * MINUTE_MS + 1, "quota-run-met"],
    [0, 90 * MINUTE_MS, "quota-run-met"],
    [1, 70 * MINUTE_MS + 1, null],
    [1, 90 * MINUTE_MS - 1, null],
    [1, 90 * MINUTE_MS, "quota-run-met"],
  ])("of time, at stage %i and %i ms: what is left holds a whole run", (stage, ranTodayMs, gap) => {
    expect(gapOf(minutes, { stage, ranTodayMs })).toBe(gap);
  });

  it.each<[number, number, string | null]>([
    [0, 0, null],
    [0, 600, null],
    [0, 601, "quota-energy-met"],
    [1, 999, null],
    [1, 1000, "quota-energy-met"],
  ])("of energy, at stage %i and %i Wh", (stage, usedTodayWh, gap) => {
    expect(gapOf(energy, { stage, usedTodayWh })).toBe(gap);
  });

  it("that is smaller than one run lets one run begin", () => {
    expect(gapOf({ ...energy, quotaEnergyWh: 100 }, { stage: 0, usedTodayWh: 0 })).toBeNull();
  });
});
