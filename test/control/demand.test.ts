import { describe, expect, it } from "vitest";
import { demandGap } from "../../service/control/demand.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { LoadSettings } from "../../service/control/settings.ts";
import { load, loadObservation, observe, site } from "./given.ts";

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
