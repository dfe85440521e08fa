import { describe, expect, it } from "vitest";
import {
  floodedBattery,
  fresh,
  HOUR_MS,
  lfpBattery,
  load,
  lost,
  MINUTE_MS,
  Run,
  site,
  unmapped,
} from "./given.ts";
import type { Scene } from "./given.ts";

const noMonitor = { socFraction: unmapped };

describe("state of charge", () => {
  it("is the monitor's while it is fresh and agrees with the count", () => {
    const run = new Run(site());
    const decision = run.during(MINUTE_MS, { socFraction: 0.83, currentA: 0 });
    expect(decision.site).toMatchObject({ socSource: "monitor", socFraction: 0.83 });
    expect(decision.site.findings).toEqual([]);
  });

  it("is the lower of the two once a stuck monitor has been left behind", () => {
    const run = new Run(site());
    // 60 A out of 400 Ah is 15 % an hour; the monitor stays at 90 %.
    const decision = run.during(HOUR_MS, { socFraction: 0.9, currentA: -60 });
    expect(decision.site.findings.map((finding) => finding.code)).toEqual(["soc-disagrees"]);
    expect(decision.site.socFraction).toBeLessThan(0.85);
    expect(decision.site.socFraction).toBeGreaterThan(0.74);
  });

  it("does not take a slow drift of the current sensor for a stuck monitor", () => {
    const run = new Run(site());
    // 1 A of offset is 6 % a day; the count is drawn back meanwhile.
    const decision = run.during(48 * HOUR_MS, { socFraction: 0.9, currentA: 1 });
    expect(decision.site.findings).toEqual([]);
  });

  it("goes on as our own count for an hour when the monitor falls silent, then not", () => {
    const run = new Run(site());
    run.during(MINUTE_MS, { socFraction: 0.9, currentA: 0 });
    const silent: Scene = { battery: { socFraction: lost(0.9) }, currentA: -40 };
    const after = run.during(30 * MINUTE_MS, silent);
    expect(after.site.socSource).toBe("count");
    expect(after.site.socFraction).toBeCloseTo(0.9 - 0.05, 3);
    expect(after.site.findings.map((finding) => finding.code)).toEqual(["soc-from-count"]);
    const later = run.during(31 * MINUTE_MS, silent);
    expect(later.site.socSource).toBe("none");
    expect(later.site.findings.map((finding) => finding.code)).toContain("soc-unknown");
  });

  it("is not kept up by a count without a current", () => {
    const run = new Run(site());
    run.during(MINUTE_MS, { socFraction: 0.9 });
    const decision = run.tick({ battery: { socFraction: lost(0.9), currentA: unmapped } });
    expect(decision.site.socSource).toBe("none");
  });

  it("starts from a full charge where there is no monitor", () => {
    const run = new Run(site());
    const filling: Scene = { battery: noMonitor, voltageV: 56, currentA: 7 };
    expect(run.during(10 * MINUTE_MS, filling).site.socSource).toBe("voltage");
    expect(run.during(MINUTE_MS, filling).site).toMatchObject({
      socSource: "count",
      socFraction: 1,
    });
  });

  it("is not full on tail current under the set-point, nor at the set-point above tail current", () => {
    for (const scene of [
      { voltageV: 55, currentA: 7 },
      { voltageV: 56, currentA: 9 },
      { voltageV: 56, currentA: -1 },
    ]) {
      const run = new Run(site());
      run.during(HOUR_MS, { battery: noMonitor, ...scene });
      expect(run.memory.battery.countFraction).toBeNull();
    }
  });
});

describe("voltage mode", () => {
  const flooded = site({ battery: floodedBattery() });

  it("reads V − I·R: 50 V at −100 A and 10 mΩ is 51 V, 54 V at +100 A is 53 V", () => {
    const run = new Run(flooded);
    const down = run.tick({ battery: noMonitor, voltageV: 50, currentA: -100 });
    expect(down.site.restVoltageV).toBeCloseTo(51, 9);
    const up = run.tick({ battery: noMonitor, voltageV: 54, currentA: 100 });
    expect(up.site.restVoltageV).toBeCloseTo(53, 9);
    expect(up.site.socFraction).toBeNull();
  });

  it("starts and stops a lead-acid site's loads at its two voltages", () => {
    const run = new Run(flooded);
    const at = (voltageV: number): Scene => ({ battery: noMonitor, voltageV, currentA: 0 });
    const waiting = run.during(8 * MINUTE_MS, { ...at(51.1), currentA: 0 });
    expect(waiting.verdicts[0]).toMatchObject({ code: "waiting-voltage", limit: 51.2 });
    run.during(3 * MINUTE_MS, { battery: noMonitor, voltageV: 51.8, currentA: 50 });
    expect(run.stages).toEqual([2]);
    run.during(12 * MINUTE_MS, at(49.1));
    expect(run.stages).toEqual([0]);
    expect(run.decision?.verdicts[0]?.code).toBe("waiting-rest");
  });

  it("runs an LFP site's loads only while the battery is held at its set-point", () => {
    const run = new Run(site({ battery: lfpBattery(), loads: [load()] }));
    const waiting = run.during(8 * MINUTE_MS, { battery: noMonitor, voltageV: 53.4 });
    expect(waiting.verdicts[0]?.code).toBe("waiting-full");
    run.during(3 * MINUTE_MS, { battery: noMonitor, voltageV: 55.9, currentA: 60 });
    expect(run.stages).toEqual([2]);
    run.during(12 * MINUTE_MS, { battery: noMonitor, voltageV: 53.4, currentA: 60 });
    expect(run.stages).toEqual([0]);
  });

  it("is not fallen back on when a monitor exists but is silent", () => {
    const run = new Run(flooded);
    const decision = run.tick({ battery: { socFraction: lost(0.9, "waiting") } });
    expect(decision.site.socSource).toBe("none");
  });
});

describe("charge stage", () => {
  function stageOf(run: Run, scene: Scene): string | null {
    return run.tick(scene).site.chargeStage;
  }

  it("is bulk under the set-point, absorption at it, float after a full charge", () => {
    const run = new Run(site());
    expect(stageOf(run, { voltageV: 55.5 })).toBe("bulk");
    expect(stageOf(run, { voltageV: 55.6 })).toBe("absorption");
    expect(stageOf(run, { voltageV: 54 })).toBe("bulk");
    run.during(11 * MINUTE_MS, { voltageV: 56, currentA: 5 });
    expect(stageOf(run, { voltageV: 54, currentA: 5 })).toBe("float");
    expect(stageOf(run, { voltageV: 54, currentA: 5 })).toBe("float");
    expect(stageOf(run, { voltageV: 53.5, currentA: -5 })).toBe("bulk");
  });

  it("moves a lead-acid set-point with temperature, within −10…55 °C", () => {
    const flooded = site({ battery: floodedBattery() });
    // −96 mV/K from 58.4 V at 25 °C: 60.32 V at 5 °C, tolerance 0.4 V.
    const cold = { temperatureC: fresh(5) };
    const run = new Run(flooded);
    expect(stageOf(run, { voltageV: 59.9, battery: cold })).toBe("bulk");
    expect(stageOf(run, { voltageV: 59.93, battery: cold })).toBe("absorption");
    const deepFrost = { temperatureC: fresh(-30) };
    expect(stageOf(run, { voltageV: 61.37, battery: deepFrost })).toBe("absorption");
    expect(stageOf(run, { voltageV: 61.35, battery: deepFrost })).toBe("bulk");
  });

  it("is the reported one where there is a report, and says when arrays are held back", () => {
    const run = new Run(site());
    const reported = { chargeStage: fresh("float" as const) };
    expect(run.tick({ voltageV: 54, battery: reported }).site).toMatchObject({
      chargeStage: "float",
      isCurtailed: true,
    });
    expect(run.tick({ voltageV: 53, battery: reported }).site.isCurtailed).toBe(false);
  });
});

describe("a full charge that is overdue", () => {
  it("claims everything that the battery takes until it is full", () => {
    const overdue = site({ battery: floodedBattery({ fullChargeEveryDays: 2 }) });
    const run = new Run(overdue);
    run.during(5 * MINUTE_MS);
    const later = { over: { localDay: 20_625 + 3, wallMs: Date.UTC(2026, 5, 24, 10) } };
    const decision = run.tick({ ...later, voltageV: 58.4, currentA: 30 });
    expect(decision.site.claimW).toBeCloseTo(58.4 * 30, 6);
    expect(decision.site.lendableWh).toBe(0);
    run.during(11 * MINUTE_MS, { ...later, voltageV: 58.4, currentA: 5 });
    expect(run.decision?.site.claimW).toBe(0);
  });
});
