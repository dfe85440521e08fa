/** What a lead-acid battery takes in absorption is its own, whatever the band could lend. */
import { describe, expect, it } from "vitest";
import { floodedBattery, HOUR_MS, lfpBattery, load, lost, MINUTE_MS, Run, site } from "./given.ts";
import type { Scene } from "./given.ts";

/** At the set-point of 58.4 V the battery takes 20 A. */
const ABSORBING: Scene = { socFraction: 0.98, voltageV: 58.4, currentA: 20 };
const TAKES_W = 58.4 * 20;

function claimOf(run: Run): number | undefined {
  return run.decision?.site.claimW;
}

function absorbing(over: Parameters<typeof site>[0] = {}): Run {
  const run = new Run(site({ battery: floodedBattery(), loads: [], ...over }));
  run.during(10 * MINUTE_MS, ABSORBING);
  return run;
}

describe("the claim of a lead-acid battery", () => {
  it("is all that it takes at its set-point, so that nothing of it is on offer", () => {
    const run = absorbing();
    expect(claimOf(run)).toBeCloseTo(TAKES_W, 6);
    expect(run.decision?.site.availableW).toBeCloseTo(0, 6);
  });

  it("is held for a quarter of an hour when a load has pulled the voltage down", () => {
    const run = absorbing();
    run.tick({ ...ABSORBING, voltageV: 56, currentA: 5 });
    expect(claimOf(run)).toBeCloseTo(TAKES_W, 6);
    expect(run.decision?.site.availableW).toBeCloseTo(56 * 5 - TAKES_W, 6);
    run.during(14 * MINUTE_MS, { ...ABSORBING, voltageV: 56, currentA: 5 });
    expect(claimOf(run)).toBeCloseTo(TAKES_W, 6);
    run.during(2 * MINUTE_MS, { ...ABSORBING, voltageV: 56, currentA: 5 });
    expect(claimOf(run)).toBe(0);
  });

  it("ends when the battery is full, or on float", () => {
    const full = new Run(site({ battery: floodedBattery(), loads: [] }));
    full.during(HOUR_MS, { ...ABSORBING, currentA: 4 });
    expect(claimOf(full)).toBe(0);
    const float = { chargeStage: { value: "float", quality: "fresh", ageMs: 0 } } as const;
    const floating = absorbing();
    floating.tick({ ...ABSORBING, voltageV: 54, battery: float });
    expect(claimOf(floating)).toBe(0);
  });

  it("is never less than nothing, and not made up while the current is silent", () => {
    const giving = absorbing();
    giving.tick({ ...ABSORBING, currentA: -3 });
    expect(claimOf(giving)).toBe(0);
    const silent = absorbing();
    silent.tick({ ...ABSORBING, battery: { currentA: lost(20) } });
    expect(claimOf(silent)).toBeCloseTo(TAKES_W, 6);
  });

  it("is no rule for lithium", () => {
    const battery = lfpBattery({ absorptionVoltageV: 58.4, highVoltageV: null });
    expect(claimOf(absorbing({ battery }))).toBe(0);
  });
});

describe("a load beside a lead-acid battery in absorption", () => {
  it("stops when the battery does not get what it takes, though it still charges", () => {
    const run = absorbing({ loads: [load({ stagesW: [1000], isTolerant: true, minRunMs: 0 })] });
    expect(run.stages).toEqual([1]);
    run.during(30 * MINUTE_MS, ABSORBING);
    expect(run.stages).toEqual([1]);
    run.during(2 * MINUTE_MS, { ...ABSORBING, voltageV: 57, currentA: 15 });
    expect(run.stages).toEqual([0]);
    expect(run.decision?.verdicts[0]?.code).toBe("waiting-rest");
  });
});
