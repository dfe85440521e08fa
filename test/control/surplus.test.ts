import { describe, expect, it } from "vitest";
import type { OutlookView, SiteVerdict } from "../../service/control/decision.ts";
import { initialMemory } from "../../service/control/memory.ts";
import { inverterRatings } from "../../service/control/ratings.ts";
import { estimateStateOfCharge } from "../../service/control/state-of-charge.ts";
import { powerFigures } from "../../service/control/surplus.ts";
import type { PowerInput } from "../../service/control/surplus.ts";
import { fresh, load, lost, MINUTE_MS, observe, Run, site } from "./given.ts";
import { unmapped, unmappedStage } from "./given.ts";
import type { Scene } from "./given.ts";

const twoSources = site({
  sources: [...site().sources, { id: "creek", kind: "hydro", peakW: 1000 }],
});

function sourcesAt(array: Scene["arrayW"], creek: "fresh" | "stale", dumpW: number): Scene {
  const powerW = { value: 600, quality: creek, ageMs: 0 };
  const dumpPowerW = { value: dumpW, quality: creek, ageMs: 0 };
  return {
    over: {
      sources: [
        { powerW: fresh(array ?? 0), dumpPowerW: unmapped, chargeStage: unmappedStage },
        { powerW, dumpPowerW, chargeStage: unmappedStage },
      ],
    },
  };
}

function verdictOf(scene: Scene, run = new Run(twoSources)): SiteVerdict {
  return run.tick(scene).site;
}

describe("what the sources deliver and dump", () => {
  it("is the sum of them; what the dump burns is on offer besides what the battery takes", () => {
    const verdict = verdictOf({ ...sourcesAt(2000, "fresh", 350), voltageV: 50, currentA: 10 });
    expect(verdict.sourcesPowerW).toBe(2600);
    expect(verdict.availableW).toBe(500 + 350);
  });

  it("leaves out a source that has fallen silent: neither power nor dump is made up", () => {
    const verdict = verdictOf({ ...sourcesAt(2000, "stale", 350), voltageV: 50, currentA: 10 });
    expect(verdict.sourcesPowerW).toBe(2000);
    expect(verdict.availableW).toBe(500);
  });
});

describe("everyday use, at the battery bus", () => {
  it("is what the inverter takes, less what opportunity loads draw of it", () => {
    const run = new Run(site());
    run.during(6 * MINUTE_MS);
    expect(run.stages).toEqual([2]);
    // 2.5 kW out at 92 % and 35 W of its own, less 2 kW of ours at 92 %.
    const verdict = verdictOf({ inverterW: 2500 }, run);
    expect(verdict.basePowerW).toBeCloseTo(500 / 0.92 + 35, 9);
    expect(verdict.inverterHeadroomW).toBe(5500);
  });

  it("is the difference of sources and battery where the inverter is not measured", () => {
    const scene = { voltageV: 50, currentA: 20, arrayW: 1400, inverter: { powerW: unmapped } };
    const verdict = verdictOf(scene, new Run(site()));
    expect(verdict.basePowerW).toBe(400);
    expect(verdict.inverterHeadroomW).toBeNull();
  });

  it("is not known without either", () => {
    const scene: Scene = { inverter: { powerW: unmapped }, battery: { currentA: lost(20) } };
    expect(verdictOf(scene, new Run(site())).basePowerW).toBeNull();
  });

  it("takes a load's meter before its rating, and never less than nothing", () => {
    const run = new Run(site({ loads: [load({ hasMeter: true })] }));
    run.during(6 * MINUTE_MS, () => ({
      loads: run.loads({ powerW: fresh(1000 * (run.stages[0] ?? 0)) }),
    }));
    const metered = (watts: number) =>
      verdictOf({ inverterW: 2500, loads: run.loads({ powerW: fresh(watts) }) }, run).basePowerW;
    expect(metered(1500)).toBeCloseTo(1000 / 0.92 + 35, 9);
    expect(metered(-40)).toBeCloseTo(2500 / 0.92 + 35, 9);
  });
});

describe("what the battery claims", () => {
  it.each([
    ["over the rule curve: nothing", { socFraction: 0.95, currentA: 20 }, 0],
    ["under it: all that it takes", { socFraction: 0.93, currentA: 20 }, 1000],
    ["under it, discharging: nothing is left to claim", { socFraction: 0.93, currentA: -20 }, 0],
    [
      "under it, refusing charge: nothing",
      { socFraction: 0.93, currentA: 20, battery: { isChargeBlocked: fresh(true) } },
      0,
    ],
  ])("%s", (_name, scene, claimW) => {
    expect(verdictOf({ voltageV: 50, ...scene }, new Run(site())).claimW).toBe(claimW);
  });
});

describe("what an outlook's band lends", () => {
  const outlook: OutlookView = {
    expectedWh: 9000,
    cautiousWh: 5000,
    baseWh: 2000,
    sunsetSocFraction: 0.95,
    sunsetMs: 0,
    isCompleting: false,
    startsAtMs: [null],
  };
  const HELD_V = 56;

  /** [% of the capacity] */
  function lentPercent(over: Partial<PowerInput>, voltageV = 52): number {
    const settings = site();
    const observation = observe(settings, 0, { voltageV });
    const { battery } = settings;
    const memory = initialMemory(settings, 0).battery;
    const { lendableWh } = powerFigures(observation, {
      settings,
      estimate: estimateStateOfCharge(memory, observation, { battery, dtMs: 0, skippedMs: 0 }),
      ratings: inverterRatings(observation, settings),
      bandFraction: 0.25,
      isDaylight: true,
      outlook,
      mayLend: true,
      opportunityW: 0,
      isFullChargeDue: false,
      ...over,
    });
    return (100 * lendableWh) / (battery.capacityAh * battery.nominalVoltageV);
  }

  it.each<[string, number, Partial<PowerInput>, number?]>([
    ["is what lies more than a tenth above the curve", 15, {}],
    ["is nothing nearer to the curve", 0, { bandFraction: 0.09 }],
    ["is all of it where the arrays are held back", 25, {}, HELD_V],
    ["is nothing under the curve even then", 0, { bandFraction: -0.01 }, HELD_V],
    ["is nothing by night", 0, { isDaylight: false }],
    ["is nothing while a full charge is overdue", 0, { isFullChargeDue: true }],
    ["does not end before sunset as a fixed curve's does", 15, { mayLend: false }],
    ["is more by a fixed curve", 25, { outlook: null }],
    ["is nothing by a fixed curve towards sunset", 0, { outlook: null, mayLend: false }],
  ])("%s", (_name, percent, over, voltageV) => {
    expect(lentPercent(over, voltageV)).toBeCloseTo(percent, 9);
  });
});
