/**
 * Sequences meant to run a load against the spirit of the control law: things that go silent, come
 * back, contradict each other or stand still for hours. Every doubt has to end in OFF.
 */
import { describe, expect, it } from "vitest";
import type { Decision } from "../../service/control/decision.ts";
import type { BatteryObservation, LoadObservation } from "../../service/control/observation.ts";
import type { ControlSettings } from "../../service/control/settings.ts";
import {
  floodedBattery,
  fresh,
  HOUR_MS,
  load,
  loadObservation,
  lost,
  MINUTE_MS,
  panel,
  panelObservation,
  Run,
  site,
  TICK_MS,
  unmapped,
} from "./given.ts";
import type { Scene } from "./given.ts";

const READY_MS = 6 * MINUTE_MS;
const noMonitor = { socFraction: unmapped };
const full: Scene = { battery: noMonitor, voltageV: 56, currentA: 5 };
const empty: Scene = { battery: noMonitor, voltageV: 52, currentA: 0 };

const codesOf = (decision: Decision) => decision.verdicts.map((verdict) => verdict.code);

/** What a load behind a contactor draws: nothing while that is open. */
function behindContactor(run: Run, watts: number): LoadObservation["powerW"] {
  return fresh(run.memory.panels[0]?.isClosed === true ? watts : 0);
}

describe("where no battery current is measured", () => {
  const night: Scene = {
    arrayW: 0,
    over: { wallMs: Date.UTC(2026, 5, 21, 23), localMinute: 60 },
  };
  const threshold = site({ battery: floodedBattery() });
  const cases: readonly (readonly [string, ControlSettings, Partial<BatteryObservation>])[] = [
    ["by the monitor", site(), { currentA: unmapped }],
    ["by the voltage", threshold, { currentA: unmapped, ...noMonitor }],
  ];

  it.each(cases)(
    "the band alone starts nothing at night, judged %s",
    (_name, settings, battery) => {
      const run = new Run(settings);
      const decision = run.during(READY_MS, { ...night, voltageV: 52, battery });
      expect(run.stages).toEqual([0]);
      expect(decision.verdicts[0]).toMatchObject({ code: "waiting-night", measured: null });
    },
  );

  it.each(cases)("it starts by day, judged %s", (_name, settings, battery) => {
    const run = new Run(settings);
    run.during(READY_MS, { voltageV: 52, battery });
    expect(run.stages).toEqual([2]);
  });

  it("a clock in doubt leaves only arrays that give power to tell the day", () => {
    const inDoubt = { isWallClockPlausible: false };
    const dark = new Run(site());
    dark.during(READY_MS, { battery: { currentA: unmapped }, arrayW: 0, over: inDoubt });
    expect(dark.stages).toEqual([0]);
    const bright = new Run(site());
    bright.during(READY_MS, { battery: { currentA: unmapped }, arrayW: 3000, over: inDoubt });
    expect(bright.stages).toEqual([2]);
  });
});

describe("a state of charge that nobody saw", () => {
  it("is not our own count's when the monitor spoke against it before it fell silent", () => {
    const run = new Run(site());
    run.during(MINUTE_MS, { socFraction: 0.97, currentA: 0 });
    run.during(MINUTE_MS, { socFraction: 0.3, currentA: 0 });
    const decision = run.during(READY_MS, { battery: { socFraction: lost(0.3) } });
    expect(run.stages).toEqual([0]);
    expect(decision.site.socSource).toBe("none");
  });

  it.each([
    ["a pause of the machine", 30 * MINUTE_MS, "count"],
    ["a longer pause", 40 * MINUTE_MS, "voltage"],
  ])("without a monitor, after %s: by %s ms", (_name, pauseMs, source) => {
    const run = new Run(site());
    expect(run.during(12 * MINUTE_MS, full).site.socSource).toBe("count");
    run.atMs += pauseMs;
    expect(run.tick(empty).site.socSource).toBe(source);
  });

  it.each([
    [30 * MINUTE_MS, "count"],
    [30 * MINUTE_MS + TICK_MS, "voltage"],
  ])("without a monitor, after %i ms without a current", (silentMs, source) => {
    const run = new Run(site());
    run.during(12 * MINUTE_MS, full);
    run.during(silentMs, { ...empty, battery: { ...noMonitor, currentA: lost(0) } });
    expect(run.tick(empty).site.socSource).toBe(source);
  });

  it("is not full by two moments with a pause between them", () => {
    const run = new Run(site());
    run.tick(full);
    run.atMs += HOUR_MS;
    expect(run.tick(full).site.socSource).toBe("voltage");
    expect(run.during(10 * MINUTE_MS, full).site).toMatchObject({ socSource: "count" });
  });
});

describe("a pause of the machine", () => {
  it("is no dwell over the start mark", () => {
    const run = new Run(site({ loads: [load({ minRestMs: 0 })] }));
    run.tick();
    run.atMs += 3 * HOUR_MS;
    expect(codesOf(run.tick())).toEqual(["waiting-dwell"]);
    run.during(2 * MINUTE_MS);
    expect(run.stages).toEqual([2]);
  });

  it("of up to two minutes is one: slow ticks still start loads", () => {
    const run = new Run(site({ loads: [load({ minRestMs: 0 })] }));
    run.tick();
    run.atMs += 2 * MINUTE_MS - TICK_MS;
    run.tick();
    expect(run.stages).toEqual([2]);
  });
});

describe("a load that was on when the broker was lost", () => {
  /** Running, then out of reach for so long, then reached again. */
  function outOfReachFor(outageMs: number): Run {
    const run = new Run(site());
    run.during(READY_MS);
    expect(run.stages).toEqual([2]);
    run.during(outageMs, { over: { isBrokerConnected: false } });
    expect(run.stages).toEqual([0]);
    return run;
  }

  it.each([TICK_MS, MINUTE_MS, 20 * MINUTE_MS])(
    "rests its full time from when it can be told again, %i ms later",
    (outageMs) => {
      const run = outOfReachFor(outageMs);
      run.during(5 * MINUTE_MS - 2 * TICK_MS);
      expect(codesOf(run.tick())).toEqual(["waiting-rest"]);
      expect(run.stages).toEqual([0]);
      run.tick();
      expect(run.stages).toEqual([2]);
    },
  );

  it("has rested meanwhile if it was off before", () => {
    const run = outOfReachFor(MINUTE_MS);
    run.during(4 * MINUTE_MS);
    run.during(2 * MINUTE_MS, { over: { isBrokerConnected: false } });
    run.during(2 * TICK_MS);
    expect(run.stages).toEqual([2]);
  });
});

describe("a load that a person runs", () => {
  it("rests its full time before it is started again", () => {
    const run = new Run(site());
    run.during(READY_MS, () => ({ loads: run.loads({ reportedStage: fresh(1) }) }));
    expect(codesOf(run.tick())).toEqual(["waiting-rest"]);
    run.during(5 * MINUTE_MS - 2 * TICK_MS);
    expect(run.stages).toEqual([0]);
    run.tick();
    expect(run.stages).toEqual([2]);
  });

  it("takes its room on the feeder", () => {
    const run = new Run(
      site({
        panels: [panel({ feederMaxW: 2500 })],
        loads: [
          load({ id: "hand", panelIndex: 0, stagesW: [2000], priority: 3 }),
          load({ id: "first", panelIndex: 0, stagesW: [400], priority: 1, minRestMs: 0 }),
          load({
            id: "next",
            panelIndex: 0,
            stagesW: [1000],
            priority: 2,
            minRestMs: 8 * MINUTE_MS,
          }),
        ],
      }),
    );
    run.during(3 * MINUTE_MS);
    expect(run.stages).toEqual([0, 1, 0]);
    const decision = run.during(10 * MINUTE_MS, () => {
      const [, first = loadObservation(), next = loadObservation()] = run.loads();
      return { loads: [loadObservation({ reportedStage: fresh(1) }), first, next] };
    });
    expect(codesOf(decision)).toEqual(["by-hand", "running", "waiting-feeder"]);
    expect(decision.verdicts[2]).toMatchObject({ measured: 100, limit: 1000 });
  });

  it("on an overloaded feeder loses its panel", () => {
    const run = new Run(site({ panels: [panel()], loads: [load({ panelIndex: 0 })] }));
    run.during(READY_MS);
    expect(run.stages).toEqual([2]);
    const decision = run.tick({
      loads: run.loads({ isByHand: fresh(true) }),
      panels: [panelObservation({ isClosed: fresh(true), powerW: fresh(9000) })],
    });
    expect(decision.panelsClosed).toEqual([false]);
    expect(decision.panelVerdicts[0]).toMatchObject({ code: "feeder-overload", measured: 9000 });
    expect(decision.events).toContainEqual({
      about: "panel",
      index: 0,
      change: "raised",
      code: "feeder-overload",
    });
  });
});

describe("a contactor", () => {
  it("does not stay closed for a load that has fallen silent", () => {
    const settings = load({ panelIndex: 0, hasMeter: true, hasReport: false, stagesW: [1000] });
    const run = new Run(site({ panels: [panel()], loads: [settings] }));
    run.during(READY_MS, () => ({
      loads: run.loads({ powerW: behindContactor(run, 1000 * (run.stages[0] ?? 0)) }),
    }));
    expect(run.stages).toEqual([1]);
    // Off within its settling time, open five minutes later.
    run.during(READY_MS, () => ({ loads: run.loads({ powerW: lost(1000) }) }));
    expect(run.stages).toEqual([0]);
    expect(run.memory.panels[0]?.isClosed).toBe(false);
  });

  it("waits for a load that still says on, so that it opens without load", () => {
    const run = new Run(
      site({ panels: [panel({ openAfterMs: 0 })], loads: [load({ panelIndex: 0 })] }),
    );
    run.during(17 * MINUTE_MS);
    expect(run.stages).toEqual([2]);
    const low = { socFraction: 0.91 };
    run.during(MINUTE_MS + TICK_MS, low);
    expect(run.stages).toEqual([0]);
    expect(run.memory.panels[0]?.isClosed).toBe(true);
    run.tick({ ...low, loads: run.loads({ reportedStage: fresh(2) }) });
    expect(run.memory.panels[0]?.isClosed).toBe(true);
    run.tick(low);
    expect(run.memory.panels[0]?.isClosed).toBe(false);
  });

  it("that is open hides a welded load, which is found when it closes, not taken for by hand", () => {
    const hours = [{ fromMinute: 720, toMinute: 729 }];
    const run = new Run(
      site({
        panels: [panel()],
        loads: [
          load({ id: "welded", panelIndex: 0, hasMeter: true, hasReport: false, stagesW: [1000] }),
          load({ id: "other", panelIndex: 0, priority: 2, stagesW: [500] }),
        ].map((settings, index) => (index === 0 ? { ...settings, windows: hours } : settings)),
      }),
    );
    let isWelded = false;
    const scene = (): Scene => {
      const [first = loadObservation(), other = loadObservation()] = run.loads();
      const watts = isWelded || run.stages[0] === 1 ? 1000 : 0;
      return { loads: [{ ...first, powerW: behindContactor(run, watts) }, other] };
    };
    run.during(8 * MINUTE_MS, scene);
    expect(run.stages).toEqual([1, 1]);
    isWelded = true;
    run.tick({ ...scene(), voltageV: 47 });
    expect(run.memory.panels[0]?.isClosed).toBe(false);
    run.during(7 * MINUTE_MS, scene);
    expect(run.memory.loads[0]).toMatchObject({ latch: "latched-welded", isByHand: false });
    expect(run.memory.panels[0]?.isClosed).toBe(false);
    expect(run.stages).toEqual([0, 0]);
  });

  it("is latched when its report goes silent while it is closed", () => {
    const run = new Run(site({ panels: [panel()], loads: [load({ panelIndex: 0 })] }));
    run.during(READY_MS);
    const silent = { panels: [panelObservation({ isClosed: lost(true) })] };
    run.during(20_000, silent);
    expect(run.stages).toEqual([2]);
    const decision = run.tick(silent);
    expect(codesOf(decision)).toEqual(["latched-panel"]);
    expect(decision.panelsClosed).toEqual([false]);
  });
});

describe("a device that drops out", () => {
  /** Confirms each start, and falls off some seconds later, as an overload trip does. */
  it("soon after each start is latched after three, though each start was confirmed", () => {
    const run = new Run(site());
    run.during(3 * HOUR_MS, () => {
      const startedAtMs = run.memory.loads[0]?.startedAtMs ?? run.atMs;
      const isTripped = run.atMs - startedAtMs >= 2 * TICK_MS;
      return { loads: run.loads(isTripped ? { reportedStage: fresh(0) } : {}) };
    });
    expect(run.memory.loads[0]).toMatchObject({ latch: "latched-dead", startsToday: 3 });
  });
});

describe("a clear request", () => {
  it("in a running load neither stops it nor confirms it", () => {
    const run = new Run(site());
    run.during(READY_MS);
    const asked = run.tick({ loads: run.loads({ request: "clear" }) });
    expect(codesOf(asked)).toEqual(["running"]);
    const dead = { reportedStage: fresh(0) };
    run.tick({ loads: run.loads(dead) });
    run.tick({ loads: run.loads({ ...dead, request: "clear" }) });
    expect(codesOf(run.tick({ loads: run.loads(dead) }))).toEqual(["unconfirmed"]);
  });

  it("does not shorten the rest", () => {
    const run = new Run(site());
    run.during(4 * MINUTE_MS);
    expect(codesOf(run.tick({ loads: run.loads({ request: "clear" }) }))).toEqual(["waiting-rest"]);
  });

  it("for a contact that is still welded makes it by hand, and starts nothing", () => {
    const run = new Run(site());
    run.during(READY_MS);
    const stuck = { reportedStage: fresh(2) };
    run.during(12 * MINUTE_MS, () => ({ socFraction: 0.91, loads: run.loads(stuck) }));
    expect(run.memory.loads[0]?.latch).toBe("latched-welded");
    run.tick({ loads: run.loads({ ...stuck, request: "clear" }) });
    run.during(HOUR_MS, () => ({ loads: run.loads(stuck) }));
    expect(run.memory.loads[0]).toMatchObject({ latch: "none", isByHand: true, stage: 0 });
  });
});

describe("a clock that jumps", () => {
  it("back a day gives no second quota", () => {
    const run = new Run(site({ loads: [load({ quotaRunMs: 10 * MINUTE_MS })] }));
    expect(codesOf(run.during(20 * MINUTE_MS))).toEqual(["quota-run-met"]);
    const back = { over: { localDay: 20_624, wallMs: Date.UTC(2026, 5, 20, 10) } };
    expect(codesOf(run.during(READY_MS, back))).toEqual(["quota-run-met"]);
  });

  it("ahead and back does not put off the full charge that is due", () => {
    const run = new Run(site({ battery: floodedBattery({ fullChargeEveryDays: 7 }) }));
    run.tick({ over: { localDay: 20_625 + 400 } });
    run.tick({ over: { localDay: 20_625 } });
    const due = (day: number) => run.tick({ over: { localDay: 20_625 + day } }).site.claimW > 0;
    expect(due(7)).toBe(false);
    expect(due(8)).toBe(true);
  });
});

describe("two loads that see the same spare power", () => {
  it("start apart by the settling time where that is longer than the stagger time", () => {
    const slow = { stagesW: [1500], settleMs: 60_000, minRunMs: 5 * HOUR_MS };
    const run = new Run(
      site({
        staggerMs: 10_000,
        loads: [load({ id: "a", ...slow }), load({ id: "b", priority: 2, ...slow })],
      }),
    );
    run.during(5 * MINUTE_MS);
    expect(run.stages).toEqual([1, 0]);
    expect(codesOf(run.during(50_000))).toEqual(["running", "waiting-stagger"]);
    run.tick();
    expect(run.stages).toEqual([1, 1]);
  });
});
