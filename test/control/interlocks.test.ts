import { describe, expect, it } from "vitest";
import { fresh, load, lost, MINUTE_MS, panel, Run, site } from "./given.ts";
import type { Scene } from "./given.ts";

const settings = site({
  panels: [panel()],
  loads: [
    load({ panelIndex: 0, tank: { surplusC: 68, hysteresisK: 4, limitC: 75, volumeL: null } }),
  ],
  inverter: {
    ...site().inverter,
    temperatureMaxC: 70,
    acVoltage: { minV: 207, maxV: 253 },
    frequency: { minHz: 47, maxHz: 53 },
  },
});

/** Everything that the site has is well. */
const well = {
  inverter: {
    temperatureC: fresh(40),
    acVoltageV: fresh(230),
    frequencyHz: fresh(50),
    isFaulty: fresh(false),
  },
  battery: { isDischargeBlocked: fresh(false), isChargeBlocked: fresh(false) },
} satisfies Scene;

/** CONTROL.md 8, "Off at once", as far as one observation can show it. */
const OFF_AT_ONCE: readonly (readonly [string, Scene, string])[] = [
  ["broker lost", { over: { isBrokerConnected: false } }, "broker-lost"],
  ["voltage stale", { battery: { voltageV: lost(54) } }, "telemetry-missing"],
  ["current implausible", { battery: { currentA: lost(52, "implausible") } }, "telemetry-missing"],
  ["current only retained", { battery: { currentA: lost(52, "retained") } }, "telemetry-missing"],
  ["inverter power stale", { inverter: { powerW: lost(300) } }, "telemetry-missing"],
  ["voltage low", { voltageV: 47.99 }, "voltage-low"],
  ["under the floor", { socFraction: 0.58 }, "below-floor"],
  ["discharge blocked", { battery: { isDischargeBlocked: fresh(true) } }, "discharge-blocked"],
  [
    "discharge permission lost",
    { battery: { isDischargeBlocked: lost(false) } },
    "telemetry-missing",
  ],
  ["inverter fault", { inverter: { isFaulty: fresh(true) } }, "inverter-fault"],
  ["inverter fault flag lost", { inverter: { isFaulty: lost(false) } }, "telemetry-missing"],
  ["inverter over its rating", { inverterW: 8001 }, "inverter-overload"],
  ["inverter hot", { inverter: { temperatureC: fresh(70.1) } }, "inverter-hot"],
  ["inverter temperature lost", { inverter: { temperatureC: lost(40) } }, "telemetry-missing"],
  ["AC voltage low", { inverter: { acVoltageV: fresh(206) } }, "ac-voltage"],
  ["AC voltage high", { inverter: { acVoltageV: fresh(254) } }, "ac-voltage"],
  ["frequency low", { inverter: { frequencyHz: fresh(46.9) } }, "ac-frequency"],
  ["frequency high", { inverter: { frequencyHz: fresh(53.1) } }, "ac-frequency"],
  ["generator runs", { over: { isGeneratorRunning: fresh(true) } }, "generator-running"],
  ["generator signal lost", { over: { isGeneratorRunning: lost(false) } }, "telemetry-missing"],
  ["AC voltage lost", { inverter: { acVoltageV: lost(230) } }, "telemetry-missing"],
  ["frequency lost", { inverter: { frequencyHz: lost(50) } }, "telemetry-missing"],
];

function running(): { run: Run; scene: () => Scene } {
  const run = new Run(settings);
  const scene = (): Scene => ({ ...well, loads: run.loads({ tankTemperatureC: fresh(50) }) });
  run.during(10 * MINUTE_MS, scene);
  expect(run.stages).toEqual([2]);
  return { run, scene };
}

function merge(base: Scene, change: Scene): Scene {
  return {
    ...base,
    ...change,
    battery: { ...base.battery, ...change.battery },
    inverter: { ...base.inverter, ...change.inverter },
  };
}

describe("an interlock of the site", () => {
  it.each(OFF_AT_ONCE)(
    "%s: off in the same tick, within the minimum run",
    (_name, change, code) => {
      const { run, scene } = running();
      const decision = run.tick(merge(scene(), change));
      expect(decision.loadStages).toEqual([0]);
      expect(decision.panelsClosed).toEqual([false]);
      expect(decision.site.findings.map((finding) => finding.code)).toContain(code);
      expect(decision.verdicts[0]?.code).toBe("site-interlock");
      expect(decision.events).toContainEqual({ about: "site", index: 0, change: "raised", code });
    },
  );

  it("is raised once and cleared once", () => {
    const { run, scene } = running();
    run.tick(merge(scene(), { voltageV: 47 }));
    const second = run.tick(merge(scene(), { voltageV: 47 }));
    expect(second.events).toEqual([]);
    const third = run.tick(scene());
    expect(third.events).toEqual([
      { about: "site", index: 0, change: "cleared", code: "voltage-low" },
    ]);
  });

  it("just inside the limits holds nothing", () => {
    const { run, scene } = running();
    const inside = merge(scene(), {
      voltageV: 48,
      inverterW: 8000,
      inverter: { temperatureC: fresh(70), acVoltageV: fresh(253), frequencyHz: fresh(47) },
    });
    expect(run.tick(inside).loadStages).toEqual([2]);
  });
});

describe("an interlock of one load", () => {
  it.each([
    ["tank at its limit", { tankTemperatureC: fresh(75) }, "tank-hot"],
    ["tank sensor stale", { tankTemperatureC: lost(50) }, "tank-unknown"],
    ["tank sensor implausible", { tankTemperatureC: lost(50, "implausible") }, "tank-unknown"],
  ] as const)("%s: off at once", (_name, change, code) => {
    const { run } = running();
    const decision = run.tick({ ...well, loads: run.loads(change) });
    expect(decision.loadStages).toEqual([0]);
    expect(decision.verdicts[0]?.code).toBe(code);
  });

  it("its feeder's overload turns it off at once", () => {
    const { run, scene } = running();
    const panels = [{ isClosed: fresh(true), powerW: fresh(7361), request: "none" as const }];
    const decision = run.tick({ ...scene(), panels });
    expect(decision.loadStages).toEqual([0]);
    expect(decision.verdicts[0]).toMatchObject({ code: "feeder-overload", measured: 7361 });
  });
});

describe("what is no interlock", () => {
  it("high voltage: nothing new starts, what runs goes on", () => {
    const { run, scene } = running();
    expect(run.tick({ ...scene(), voltageV: 58.5 }).loadStages).toEqual([2]);
    const waiting = new Run(settings);
    const decision = waiting.during(10 * MINUTE_MS, () => ({
      ...well,
      voltageV: 58.5,
      loads: waiting.loads({ tankTemperatureC: fresh(50) }),
    }));
    expect(decision.verdicts[0]?.code).toBe("waiting-high-voltage");
  });

  it("charge blocked: the battery claims nothing, measured sun still runs loads", () => {
    const { run, scene } = running();
    const decision = run.tick(merge(scene(), { battery: { isChargeBlocked: fresh(true) } }));
    expect(decision.loadStages).toEqual([2]);
    expect(decision.site.claimW).toBe(0);
    expect(decision.site.findings.map((finding) => finding.code)).toEqual(["charge-blocked"]);
  });

  it("a clock in doubt: timers and the rule curve go on", () => {
    const { run, scene } = running();
    const decision = run.tick({ ...scene(), over: { isWallClockPlausible: false } });
    expect(decision.loadStages).toEqual([2]);
    expect(decision.site.isDaylight).toBeNull();
  });

  it("a load that may load the generator runs with it", () => {
    const run = new Run(site({ loads: [load({ mayLoadGenerator: true })] }));
    run.during(10 * MINUTE_MS, { over: { isGeneratorRunning: fresh(true) } });
    expect(run.stages).toEqual([2]);
  });
});
