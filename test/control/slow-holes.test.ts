/**
 * Ways past a limit or a latch that take their time: set-points that creep, meters that come and
 * go, devices that fail again and again, settings that change in between.
 */
import { describe, expect, it } from "vitest";
import { carryOver } from "../../service/control/carry-over.ts";
import type { Decision } from "../../service/control/decision.ts";
import type { LoadObservation } from "../../service/control/observation.ts";
import type { ControlSettings, LoadSettings } from "../../service/control/settings.ts";
import {
  floodedBattery,
  fresh,
  HOUR_MS,
  lfpBattery,
  load,
  loadObservation,
  lost,
} from "./given.ts";
import { MINUTE_MS, panel, panelObservation, Run, site, TICK_MS, unmapped } from "./given.ts";
import type { Scene } from "./given.ts";

const LIMITS = { minW: 200, maxW: 4000, stepW: 10, riseWPerS: 4000 / 180 };
const SETPOINT_V = 56;
/** A window that noon does not fall into. */
const NEVER = { fromMinute: 0, toMinute: 1 };
const inverter = (over: Partial<ControlSettings["inverter"]>) => ({ ...site().inverter, ...over });
const findings = (decision: Decision | null) =>
  (decision?.site.findings ?? []).map(({ code }) => code);
const codeOf = (run: Run, index = 0) => run.decision?.verdicts[index]?.code;

function heater(over: Partial<LoadSettings> = {}): LoadSettings {
  return load({ stagesW: [200], modulating: LIMITS, hasMeter: true, isTolerant: true, ...over });
}

const sockets = (over: Partial<LoadSettings> = {}) =>
  load({
    id: "sockets",
    stagesW: [300],
    hasMeter: true,
    sockets: { maximumW: 2000, warnMs: 0, finishGraceMs: 0, hasRequest: false, requestMs: HOUR_MS },
    ...over,
  });

/** What each load is set to, or what it draws if that is something else. */
function reports(run: Run, drawnW: readonly (number | null)[] = []): LoadObservation[] {
  return run.memory.loads.map(({ stage, powerW }, index) =>
    loadObservation({
      reportedStage: fresh(stage),
      powerW:
        run.settings.loads[index]?.hasMeter === true
          ? fresh(stage === 0 ? 0 : (drawnW[index] ?? powerW))
          : unmapped,
    }),
  );
}

/** More sun than anybody can use: the battery is full, and held at its set-point. */
function plenty(run: Run, drawnW: readonly (number | null)[] = []): Scene {
  const loads = reports(run, drawnW);
  let inverterW = 300;
  for (const [index, { stage, powerW }] of run.memory.loads.entries()) {
    const metered = loads[index]?.powerW;
    inverterW += stage === 0 ? 0 : metered?.quality === "fresh" ? metered.value : powerW;
  }
  return { socFraction: 0.99, voltageV: SETPOINT_V, currentA: 2, inverterW, loads };
}

describe("a set-point that rises", () => {
  it("stays within its leg", () => {
    const legs = ["L1", "L2"].map((id) => ({ id, continuousVA: 4000 }));
    const run = new Run(
      site({ inverter: inverter({ legs }), loads: [heater({ legIndex: 1, powerFactor: 0.8 })] }),
    );
    const seen = new Set<string>();
    run.during(HOUR_MS, () => {
      const scene = plenty(run);
      const onLegW = 1000 + (run.memory.loads[0]?.powerW ?? 0);
      for (const code of findings(run.decision)) seen.add(code);
      return { ...scene, inverter: { legPowersW: [fresh(3900), fresh(onLegW)] } };
    });
    expect([...seen]).toEqual([]);
    // 3000 VA are left beside 1000 W of others; 2400 W of its own at 0.8.
    expect(run.memory.loads[0]?.powerW).toBeGreaterThan(2300);
    expect(run.memory.loads[0]?.powerW).toBeLessThanOrEqual(2400);
  });

  it("stays within the inverter's apparent power", () => {
    const rated = inverter({ continuousW: 5000, continuousVA: 5000 });
    const run = new Run(site({ inverter: rated, loads: [heater({ powerFactor: 0.5 })] }));
    run.during(HOUR_MS, () => plenty(run));
    expect(run.memory.loads[0]?.powerW).toBeGreaterThan(2250);
    expect(run.memory.loads[0]?.powerW).toBeLessThanOrEqual(2350);
  });

  it("leaves live sockets what they may take at any moment", () => {
    const rated = inverter({ continuousW: 5000, continuousVA: 5000 });
    const loads = [sockets(), heater({ priority: 2 })];
    const run = new Run(site({ inverter: rated, loads }));
    run.during(HOUR_MS, () => plenty(run, [100]));
    expect(run.memory.loads[1]?.powerW).toBeGreaterThan(2500);
    run.during(10 * MINUTE_MS, () => {
      expect(findings(run.decision)).toEqual([]);
      return plenty(run, [2000]);
    });
    expect(run.stages).toEqual([1, 1]);
    // The house takes 500 W more: less is left for the set-point, though nothing is over yet.
    run.during(2 * MINUTE_MS, () => {
      const scene = plenty(run, [100]);
      return { ...scene, inverterW: (scene.inverterW ?? 0) + 500 };
    });
    expect(run.memory.loads[1]?.powerW).toBeLessThanOrEqual(2200);
  });

  it("rises no further on an inverter's power from before it last rose", () => {
    const rated = inverter({ continuousW: 2500, continuousVA: 2500 });
    const run = new Run(site({ inverter: rated, loads: [heater()] }));
    let oldW = 300;
    run.during(30 * MINUTE_MS, () => {
      const scene = plenty(run);
      const ageMs = run.atMs % MINUTE_MS;
      if (ageMs === 0) oldW = scene.inverterW ?? 0;
      expect(scene.inverterW).toBeLessThanOrEqual(2500);
      return { ...scene, inverter: { powerW: fresh(oldW, ageMs) } };
    });
    expect(run.memory.loads[0]?.powerW).toBeGreaterThan(2000);
  });

  it.each<readonly [string, Scene]>([
    ["under the rule curve", { socFraction: 0.93 }],
    ["while a full charge is overdue", { over: { localDay: 20_633 }, voltageV: SETPOINT_V }],
  ])("takes nothing that the battery claims %s", (_name, claimed) => {
    const battery = lfpBattery({ chargeLimitA: 40, fullChargeEveryDays: 7 });
    const run = new Run(site({ battery, loads: [heater()] }));
    run.during(390_000, () => ({ ...plenty(run), voltageV: 54, currentA: 39.5 }));
    const beforeW = run.memory.loads[0]?.powerW ?? 0;
    expect(beforeW).toBeGreaterThan(1000);
    run.during(10 * MINUTE_MS, () => ({
      ...plenty(run),
      voltageV: 54,
      currentA: 39.5,
      ...claimed,
    }));
    expect(run.stages).toEqual([1]);
    expect(run.memory.loads[0]?.powerW).toBe(beforeW);
  });

  it("rises at the set-point of a battery that is known by its voltage alone", () => {
    const run = new Run(site({ battery: floodedBattery(), loads: [heater()] }));
    const noMonitor = { socFraction: unmapped };
    run.during(8 * MINUTE_MS, () => ({
      ...plenty(run),
      voltageV: 58.4,
      currentA: 20,
      battery: noMonitor,
    }));
    expect(run.decision?.site).toMatchObject({ socSource: "voltage", bandFraction: null });
    expect(run.memory.loads[0]?.powerW).toBeGreaterThan(1000);
  });

  it("is always one that the device can make", () => {
    const loads = [
      heater({ modulating: { ...LIMITS, stepW: 250 }, panelIndex: 0 }),
      load({ id: "hand", panelIndex: 0, stagesW: [1130], priority: 2, windows: [NEVER] }),
    ];
    const run = new Run(site({ panels: [panel({ feederMaxW: 3000 })], loads }));
    run.during(20 * MINUTE_MS, () => plenty(run));
    expect(run.memory.loads[0]?.powerW).toBe(2950);
    const seenW = new Set<number | undefined>();
    run.during(2 * MINUTE_MS, () => {
      const scene = plenty(run);
      seenW.add(run.memory.loads[0]?.powerW);
      const byHand = loadObservation({ reportedStage: fresh(1) });
      return { ...scene, loads: scene.loads?.with(1, byHand) ?? [] };
    });
    expect([...seenW]).toEqual([2950, 1700]);
  });
});

describe("a battery whose current is not measured", () => {
  it("that is kept from its absorption has its load stopped, and no tick thrown away", () => {
    const run = new Run(site({ battery: floodedBattery() }));
    const absorbing = { value: "absorption", quality: "fresh", ageMs: 0 } as const;
    const battery = { currentA: unmapped, chargeStage: absorbing };
    run.during(17 * MINUTE_MS, { voltageV: 58.4, battery });
    expect(run.stages).toEqual([2]);
    const decision = run.tick({ voltageV: 56, battery });
    expect(decision.verdicts[0]).toMatchObject({ code: "running-short-of-power", measured: null });
    run.during(2 * MINUTE_MS + TICK_MS, { voltageV: 56, battery });
    expect(run.stages[0]).toBeLessThan(2);
    run.during(HOUR_MS, { voltageV: 56, battery });
    expect(codeOf(run)).toBe("waiting-full");
    expect(run.memory.loads[0]?.startsToday).toBe(1);
  });
});

describe("a full battery that is known by its voltage alone", () => {
  it.each([
    ["served by a held-back array", 2, 1],
    ["left alone for 10, 20, 40 … minutes by a weak one", -40, 5],
  ])("has its load %s", (_name, currentA, starts) => {
    const run = new Run(site({ loads: [load({ stagesW: [1000] })] }));
    const voltage = { socFraction: unmapped };
    run.during(4 * HOUR_MS, () => {
      const isOn = run.stages[0] === 1;
      const isWeak = isOn && currentA < 0;
      return { battery: voltage, voltageV: isWeak ? 54 : 56, currentA: isOn ? currentA : 9 };
    });
    expect(run.memory.loads[0]?.startsToday).toBe(starts);
  });
});

describe("a lead-acid battery in absorption", () => {
  it("has a load that starved it leave it alone for 10, 20, 40 … minutes", () => {
    const run = new Run(site({ battery: floodedBattery(), loads: [load({ stagesW: [1000] })] }));
    run.during(4 * HOUR_MS, () => {
      const isOn = run.stages[0] === 1;
      return { socFraction: 0.98, voltageV: isOn ? 56 : 58.4, currentA: isOn ? 2 : 20 };
    });
    expect(run.memory.loads[0]?.startsToday).toBe(5);
  });
});

describe("a full charge that is overdue", () => {
  it.each([
    [56, "held at its set-point"],
    [54, "under it"],
  ])("leaves a load nothing of what the battery takes: %i V, %s", (voltageV) => {
    // Held-back arrays would not be enough for it; what the battery takes besides would be.
    const battery = lfpBattery({ fullChargeEveryDays: 7 });
    const run = new Run(site({ battery, loads: [load({ stagesW: [3500] })] }));
    run.tick();
    run.during(20 * MINUTE_MS, () => ({
      ...plenty(run),
      voltageV,
      currentA: 60,
      over: { localDay: 20_633 },
    }));
    expect(codeOf(run)).toBe("waiting-full-charge");
  });
});

describe("room for a load that waits", () => {
  it("is made for a motor whose start the inverter can't carry beside the others", () => {
    const motor = load({ id: "motor", stagesW: [750], startPowerVA: 6000, startPowerMs: 1000 });
    const loads = [
      { ...motor, windows: [{ fromMinute: 750, toMinute: 900 }] },
      load({ id: "kettle", priority: 2, stagesW: [3000] }),
    ];
    const run = new Run(site({ inverter: inverter({ surgeVA: 9000 }), loads }));
    run.during(25 * MINUTE_MS, () => plenty(run));
    expect(run.stages).toEqual([0, 1]);
    run.during(15 * MINUTE_MS, () => plenty(run));
    expect(run.stages).toEqual([1, 1]);
  });

  it("is made on a feeder by a load that draws less than its rating", () => {
    const loads = [
      load({
        id: "first",
        panelIndex: 0,
        stagesW: [2000],
        windows: [{ fromMinute: 750, toMinute: 900 }],
      }),
      load({ id: "second", panelIndex: 0, priority: 2, stagesW: [2000], hasMeter: true }),
    ];
    const run = new Run(site({ panels: [panel({ feederMaxW: 2400 })], loads }));
    run.during(25 * MINUTE_MS, () => plenty(run, [null, 1400]));
    expect(run.stages).toEqual([0, 1]);
    run.during(10 * MINUTE_MS, () => plenty(run, [null, 1400]));
    expect(run.stages).toEqual([1, 0]);
  });

  it.each([
    ["a metered feeder", { feederMaxW: 2400 }, 8000],
    ["an inverter's apparent power", { feederMaxW: 8000 }, 2500],
  ])("is made on %s", (_name, over, continuousVA) => {
    const first = load({ id: "first", panelIndex: 0, stagesW: [2000] });
    const loads = [
      { ...first, windows: [{ fromMinute: 750, toMinute: 900 }] },
      load({ id: "second", panelIndex: 0, priority: 2, stagesW: [2000], hasMeter: true }),
    ];
    const run = new Run(
      site({ panels: [panel(over)], inverter: inverter({ continuousVA }), loads }),
    );
    run.during(35 * MINUTE_MS, () => {
      const isClosed = run.memory.panels[0]?.isClosed === true;
      const powerW = fresh(2000 * run.stages.reduce((sum, stage) => sum + stage, 0));
      return { ...plenty(run), panels: [panelObservation({ isClosed: fresh(isClosed), powerW })] };
    });
    expect(run.stages).toEqual([1, 0]);
  });

  it("on a metered feeder counts a load that goes higher only once", () => {
    const loads = [load({ panelIndex: 0, stagesW: [1000, 2000], minRunMs: 2 * HOUR_MS })];
    const run = new Run(site({ panels: [panel({ feederMaxW: 2100 })], loads }));
    run.during(HOUR_MS, () => {
      const isClosed = run.memory.panels[0]?.isClosed === true;
      const powerW = fresh(run.memory.loads[0]?.powerW ?? 0);
      const currentA = run.atMs < 20 * MINUTE_MS ? 25 - 20 * (run.stages[0] ?? 0) : 45;
      const panels = [panelObservation({ isClosed: fresh(isClosed), powerW })];
      return { ...plenty(run), socFraction: 0.9601, currentA, panels };
    });
    expect(run.stages).toEqual([2]);
  });

  it("is what the feeder's own meter leaves, whoever takes the rest", () => {
    const loads = [
      load({ id: "first", panelIndex: 0, stagesW: [1000] }),
      load({ id: "second", panelIndex: 0, priority: 2, stagesW: [1000] }),
    ];
    const run = new Run(site({ panels: [panel({ feederMaxW: 2400 })], loads }));
    const seen = new Set<string>();
    run.during(HOUR_MS, () => {
      const isClosed = run.memory.panels[0]?.isClosed === true;
      const drawnW = 1000 * run.stages.reduce((sum, stage) => sum + stage, 0);
      seen.add(codeOf(run, 1) ?? "");
      const powerW = fresh(isClosed ? 700 + drawnW : 0);
      return {
        ...plenty(run),
        panels: [panelObservation({ isClosed: fresh(isClosed), powerW })],
      };
    });
    expect(run.stages).toEqual([1, 0]);
    expect([...seen]).not.toContain("feeder-overload");
    expect(run.decision?.verdicts[1]).toMatchObject({ code: "waiting-feeder", measured: 700 });
  });

  it("is kept for a load whose own thermostat is open", () => {
    const rated = inverter({ continuousW: 5000, continuousVA: 5000 });
    const one = { stagesW: [3000], hasMeter: true, minRunMs: HOUR_MS };
    const loads = [load({ id: "a", ...one }), load({ id: "b", priority: 2, ...one })];
    const run = new Run(site({ inverter: rated, loads }));
    const sunny = (drawnW: number | null): Scene => ({ ...plenty(run, [drawnW]), currentA: 150 });
    run.during(6 * MINUTE_MS, () => sunny(null));
    expect(run.stages).toEqual([1, 0]);
    run.during(50_000, () => sunny(0));
    expect(run.stages).toEqual([1, 0]);
  });

  it("within the battery's discharge limit is counted with the most that sockets may take", () => {
    const battery = lfpBattery({ dischargeLimitA: 30 });
    const run = new Run(site({ battery, loads: [sockets()] }));
    run.during(20 * MINUTE_MS, () => ({ ...plenty(run), currentA: 8 }));
    expect(codeOf(run)).toBe("waiting-discharge-limit");
    run.during(MINUTE_MS, () => ({ ...plenty(run), currentA: 9 }));
    expect(run.stages).toEqual([1]);
  });

  it("on a leg counts what a running motor takes beyond its watts", () => {
    const legs = ["L1", "L2"].map((id) => ({ id, continuousVA: 4000 }));
    const loads = [
      load({ id: "motor", stagesW: [1500], powerFactor: 0.6, legIndex: 0, minRunMs: 4 * HOUR_MS }),
      load({ id: "kettle", stagesW: [2000], priority: 2, legIndex: 0 }),
    ];
    const run = new Run(site({ inverter: inverter({ legs }), loads }));
    run.during(HOUR_MS, () => {
      const legW = 300 + 1500 * (run.stages[0] ?? 0) + 2000 * (run.stages[1] ?? 0);
      const inverterNow = { legPowersW: [fresh(legW), fresh(0)] };
      return { ...plenty(run), currentA: 150, inverter: inverterNow };
    });
    expect(run.stages).toEqual([1, 0]);
    // 4000 VA less 1800 W and the motor's 1000 VA.
    expect(run.decision?.verdicts[1]).toMatchObject({ code: "waiting-leg", limit: 2000 });
    expect(run.decision?.verdicts[1]?.measured).toBeCloseTo(1200);
  });
});

describe("room on a leg", () => {
  const legs = ["L1", "L2"].map((id) => ({ id, continuousVA: 4000 }));

  it("is kept for what live sockets may take there", () => {
    const loads = [sockets({ legIndex: 0 }), load({ priority: 2, stagesW: [1900], legIndex: 0 })];
    const run = new Run(site({ inverter: inverter({ legs }), loads }));
    run.during(HOUR_MS, () => ({
      ...plenty(run, [100]),
      inverter: { legPowersW: [fresh(run.stages[0] === 1 ? 400 : 300), fresh(0)] },
    }));
    expect(run.stages).toEqual([1, 0]);
    // 4000 W less 400 W in use and 1900 W that the sockets may take besides.
    expect(run.decision?.verdicts[1]).toMatchObject({ code: "waiting-leg", measured: 1700 });
  });

  it("shrinks with the inverter's temperature", () => {
    const derating = { aboveC: 40, perKFraction: 0.02 };
    const loads = [load({ stagesW: [1500], legIndex: 0 })];
    const run = new Run(site({ inverter: inverter({ legs, derating }), loads }));
    run.during(HOUR_MS, () => ({
      ...plenty(run),
      inverter: { temperatureC: fresh(60), legPowersW: [fresh(1000), fresh(0)] },
    }));
    // 60 % of 4000 VA, less 1000 W.
    expect(run.decision?.verdicts[0]).toMatchObject({ code: "waiting-leg", measured: 1400 });
  });
});

describe("a device that fails soon after each start", () => {
  it("is latched though its minimum run is none", () => {
    const run = new Run(site({ loads: [load({ minRunMs: 0, minRestMs: 0 })] }));
    run.during(3 * HOUR_MS, () => {
      const startedAtMs = run.memory.loads[0]?.startedAtMs ?? run.atMs;
      const isTripped = run.atMs - startedAtMs >= 2 * TICK_MS;
      return { loads: run.loads(isTripped ? { reportedStage: fresh(0) } : {}) };
    });
    expect(run.memory.loads[0]).toMatchObject({ latch: "latched-dead", startsToday: 3 });
  });

  it("as a pump that runs dry each time is latched though its minimum run is none", () => {
    const dryRun = { belowW: 400, belowLPerMin: null, forMs: 10_000 };
    const pump = { dryRun, hasSourceContact: false, level: null, pipeMinC: null };
    const loads = [load({ stagesW: [750], minRunMs: 0, settleMs: 40_000, hasMeter: true, pump })];
    const run = new Run(site({ loads }));
    run.during(3 * HOUR_MS, () => ({ loads: reports(run, [300]) }));
    expect(run.memory.loads[0]).toMatchObject({ latch: "latched-dry-run", startsToday: 3 });
  });
});

describe("a meter that comes and goes", () => {
  it("does not hide that the powers do not add up", () => {
    const balance = { toleranceW: 150, toleranceFraction: 0.1, forMs: 3 * MINUTE_MS };
    const run = new Run(site({ balance }));
    const source = { dumpPowerW: unmapped, chargeStage: { ...unmapped, value: "bulk" as const } };
    const seen = new Set<string>();
    run.during(6 * MINUTE_MS, () => {
      const isSilent = run.atMs % (2 * MINUTE_MS) === 0;
      for (const code of findings(run.decision)) seen.add(code);
      const powerW = isSilent ? lost(6000) : fresh(6000);
      return { over: { sources: [{ ...source, powerW }] } };
    });
    expect([...seen]).toEqual(["power-unbalanced"]);
    expect(run.stages).toEqual([0]);
  });

  it("does not set our own count to a monitor that is stuck", () => {
    const run = new Run(site());
    const battery = { currentA: lost(0) };
    const scene = (): Scene => {
      const isSilent = run.atMs % (20 * MINUTE_MS) < MINUTE_MS;
      return { socFraction: 0.97, currentA: -60, ...(isSilent ? { battery } : {}) };
    };
    run.during(HOUR_MS, scene);
    expect(findings(run.decision)).toContain("soc-disagrees");
    expect(run.decision?.site.socFraction).toBeLessThan(0.9);
  });
});

describe("a current that was silent for long", () => {
  it("leaves no old count to hold against the monitor", () => {
    const run = new Run(site());
    run.during(10 * MINUTE_MS, { socFraction: 0.8, currentA: 0 });
    run.during(20 * MINUTE_MS, { socFraction: 0.9, battery: { currentA: lost(0) } });
    const decision = run.during(MINUTE_MS, { socFraction: 0.9, currentA: 0 });
    expect(findings(decision)).toEqual([]);
    expect(decision.site.socFraction).toBe(0.9);
  });
});

describe("new settings in between", () => {
  const kept = { loads: new Set(["heater"]), panels: new Set<string>() };
  const under = (run: Run, settings: ControlSettings, keeps = kept) =>
    carryOver(run.memory, settings, { kept: keeps, nowMs: run.atMs });

  it("that make a load modulating forget what it drew as a switched one", () => {
    const run = new Run(site({ loads: [load({ stagesW: [2000], hasMeter: true })] }));
    run.during(10 * MINUTE_MS, () => ({ ...plenty(run, [1900]) }));
    expect(run.memory.loads[0]?.draw.learnedW).not.toEqual([null]);
    expect(under(run, run.settings).loads[0]?.draw).toBe(run.memory.loads[0]?.draw);
    expect(under(run, site({ loads: [heater()] })).loads[0]?.draw.learnedW).toEqual([null]);
    const live = sockets({ id: "heater", stagesW: [2000] });
    expect(under(run, site({ loads: [live] })).loads[0]?.draw.learnedW).toEqual([null]);
  });

  it.each([
    [1200, false],
    [1300, true],
    [6300, true],
    [6400, false],
  ])("that rate it at %i W keep what it drew, 1900 W: %s", (ratedW, isKept) => {
    const run = new Run(site({ loads: [load({ stagesW: [2000], hasMeter: true })] }));
    run.during(10 * MINUTE_MS, () => ({ ...plenty(run, [1900]) }));
    const next = under(run, site({ loads: [load({ stagesW: [ratedW], hasMeter: true })] }));
    expect(next.loads[0]?.draw.learnedW[0] !== null).toBe(isKept);
  });

  it("with another actuator do not make a pump forget that it ran dry", () => {
    const run = new Run(site());
    run.tick();
    const counts = { dryTimes: 2, unwarmedTimes: 1, overloadsToday: 2 };
    run.memory = {
      ...run.memory,
      loads: run.memory.loads.map((one) => ({ ...one, guard: { ...one.guard, ...counts } })),
    };
    const none = { loads: new Set<string>(), panels: new Set<string>() };
    expect(under(run, run.settings, none).loads[0]?.guard).toMatchObject(counts);
  });
});
