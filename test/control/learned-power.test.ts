import { describe, expect, it } from "vitest";
import type { LoadSettings } from "../../service/control/settings.ts";
import { fresh, HOUR_MS, load, lost, MINUTE_MS, panel, Run, site, TICK_MS } from "./given.ts";
import { BASE_W, Metered, PLENTY } from "./metered-run.ts";

const READY_MS = 5 * MINUTE_MS;
const SETTLE_MS = 20_000;
const IDLE_MS = 60_000;
const one = (over: Partial<LoadSettings> = {}) => load({ stagesW: [1000], ...over });

describe("rated power is learned from the load's own meter", () => {
  it("once it has settled, at first as it is read", () => {
    const run = new Metered([one({ hasMeter: true })], [800]);
    run.pass(READY_MS + SETTLE_MS - TICK_MS);
    expect(run.stages).toEqual([1]);
    expect(run.learnedW()).toEqual([null]);
    run.pass(2 * TICK_MS);
    expect(run.learnedW()).toEqual([800]);
    expect(run.decision?.loadPowersW).toEqual([800]);
  });

  it("then slowly towards what is read", () => {
    const run = new Metered([one({ hasMeter: true })], [800]);
    run.pass(READY_MS + MINUTE_MS);
    run.actualW = [1100];
    run.pass(TICK_MS);
    expect(run.learnedW()).toEqual([800 + (300 * TICK_MS) / 300_000]);
    run.pass(HOUR_MS);
    const [powerW = 0] = run.learnedW() ?? [];
    // It ends within the 2 % that are not worth learning.
    expect(Math.abs((powerW ?? 0) - 1100)).toBeLessThan(20);
  });

  it("not from a reading that is stale, or older than the start", () => {
    for (const powerW of [lost(800), fresh(800, 5 * MINUTE_MS)]) {
      const run = new Metered([one({ hasMeter: true })], [800]);
      run.during(READY_MS + 2 * MINUTE_MS, () => ({ ...PLENTY, loads: run.loads({ powerW }) }));
      expect(run.learnedW()).toEqual([null]);
    }
  });

  it.each([
    [299, null],
    [300, 300],
    [1500, 1500],
    [1501, null],
  ])("of 1000 W rated, %d W teaches %j", (actualW, learnedW) => {
    const run = new Metered([one({ hasMeter: true })], [actualW]);
    run.pass(READY_MS + MINUTE_MS);
    expect(run.learnedW()).toEqual([learnedW]);
  });

  it("never for a modulating load", () => {
    const modulating = { minW: 500, maxW: 3000, stepW: 10, riseWPerS: 30 };
    const run = new Metered([one({ stagesW: [500], hasMeter: true, modulating })], [500]);
    run.pass(READY_MS + MINUTE_MS);
    expect(run.learnedW()).toEqual([null]);
  });
});

describe("rated power is learned from the step in the inverter's power", () => {
  /** Starts and stops it once, with time enough for both to be seen. */
  function once(run: Metered) {
    run.pass(8 * MINUTE_MS);
    run.pass(3 * MINUTE_MS, { socFraction: 0.91 });
  }
  const quick = { minRunMs: 0, minRestMs: 0 };

  it("of each start and each stop, but less than rated only once three say the same", () => {
    const run = new Metered([one(quick)], [800]);
    run.pass(READY_MS + MINUTE_MS);
    expect(run.stages).toEqual([1]);
    expect(run.memory.loads[0]?.draw.stepsW).toEqual([[800]]);
    expect(run.learnedW()).toEqual([1000]);
    run.pass(3 * MINUTE_MS, { socFraction: 0.91 });
    expect(run.stages).toEqual([0]);
    expect(run.memory.loads[0]?.draw.stepsW).toEqual([[800, 800]]);
    expect(run.learnedW()).toEqual([1000]);
    once(run);
    expect(run.learnedW()).toEqual([800]);
    expect(run.memory.loads[0]?.draw.stepsW).toEqual([[800, 800, 800, 800]]);
  });

  it("more than rated at once", () => {
    const run = new Metered([one(quick)], [1200]);
    run.pass(READY_MS + MINUTE_MS);
    expect(run.learnedW()).toEqual([1200]);
    expect(run.decision?.loadPowersW).toEqual([1200]);
  });

  it("not by one whose start or stop fell together with the household's", () => {
    const run = new Metered([one(quick)], [800]);
    for (let times = 0; times < 4; times += 1) once(run);
    for (const besideW of [-400, 400]) {
      run.baseW = 700;
      run.during(8 * MINUTE_MS, () => {
        run.baseW = run.stages[0] === 1 ? 700 + besideW : 700;
        return run.scene();
      });
      run.pass(3 * MINUTE_MS, { socFraction: 0.91 });
      expect(run.memory.loads[0]?.draw.stepsW[0]).toContain(800 + besideW);
      expect(run.learnedW()).toEqual([800]);
    }
  });

  it("anew after four steps that all say something else", () => {
    const run = new Metered([one(quick)], [1200]);
    for (let times = 0; times < 4; times += 1) once(run);
    run.actualW = [700];
    once(run);
    expect(run.learnedW()).toEqual([1200]);
    once(run);
    expect(run.learnedW()).toEqual([700]);
  });

  it("not at a stop of two at once, nor soon after another's start", () => {
    const both = [one({ id: "a", ...quick }), one({ id: "b", priority: 2, ...quick })];
    const run = new Metered(both, [800, 900]);
    run.pass(8 * MINUTE_MS);
    expect(run.stages).toEqual([1, 1]);
    const stepsW = run.memory.loads.map(({ draw }) => draw.stepsW);
    expect(stepsW).toEqual([[[800]], [[900]]]);
    // An interlock: all are off in the same tick.
    run.pass(3 * MINUTE_MS, { voltageV: 47 });
    expect(run.stages).toEqual([0, 0]);
    expect(run.memory.loads.map(({ draw }) => draw.stepsW)).toEqual(stepsW);
    expect(run.memory.loads.map(({ draw }) => draw.powerBeforeW)).toEqual([null, null]);
  });

  it("not at a stop where nothing falls away, or what does is not seen in time", () => {
    const run = new Metered([one(quick)], [800]);
    run.pass(8 * MINUTE_MS);
    run.actualW = [0];
    run.pass(TICK_MS);
    run.pass(3 * MINUTE_MS, { socFraction: 0.91 });
    expect(run.stages).toEqual([0]);
    expect(run.memory.loads[0]?.draw).toMatchObject({ stepsW: [[800]], powerBeforeW: null });
    const restless = new Metered([one(quick)], [800]);
    restless.pass(8 * MINUTE_MS);
    restless.pass(TICK_MS, { socFraction: 0.91 });
    restless.during(6 * MINUTE_MS, () => {
      restless.baseW = restless.baseW === BASE_W ? BASE_W + 151 : BASE_W;
      return restless.scene({ socFraction: 0.91 });
    });
    expect(restless.stages).toEqual([0]);
    expect(restless.memory.loads[0]?.draw).toMatchObject({ stepsW: [[800]], powerBeforeW: null });
  });

  it("of the stage that it started at, and stopped from", () => {
    const run = new Metered([load()], [1700]);
    run.pass(READY_MS + MINUTE_MS);
    expect(run.stages).toEqual([2]);
    expect(run.memory.loads[0]?.draw.stepsW).toEqual([[], [1700]]);
    expect(run.learnedW()).toEqual([null, 2000]);
  });

  it("not of a stage that it went up to in its run", () => {
    const run = new Metered([load({ minRunMs: 30 * MINUTE_MS })], [1100]);
    run.pass(READY_MS + TICK_MS, { currentA: 25, socFraction: 0.9605 });
    expect(run.stages).toEqual([1]);
    run.pass(20 * MINUTE_MS);
    expect(run.stages).toEqual([2]);
    expect(run.learnedW()).toEqual([1100, null]);
  });

  it("not where the inverter's power moved just before, or more than settles", () => {
    const run = new Metered([one()], [800]);
    run.during(READY_MS + MINUTE_MS, () => {
      if (run.stages[0] === 0) run.baseW += 151;
      return run.scene({ inverter: {} });
    });
    expect(run.stages).toEqual([1]);
    expect(run.memory.loads[0]?.draw).toMatchObject({ stepsW: [[]], powerBeforeW: null });
  });

  it("not from what is seen minutes after it has settled", () => {
    const run = new Metered([one()], [0]);
    run.pass(READY_MS + TICK_MS);
    expect(run.stages).toEqual([1]);
    run.pass(SETTLE_MS + 3 * MINUTE_MS);
    expect(run.memory.loads[0]?.draw.powerBeforeW).toBe(BASE_W);
    run.actualW = [800];
    run.pass(MINUTE_MS);
    expect(run.memory.loads[0]?.draw).toMatchObject({ stepsW: [[]], powerBeforeW: null });
  });

  it("not while the house does something too", () => {
    const run = new Metered([one()], [800]);
    run.during(READY_MS + MINUTE_MS, () => {
      run.baseW = run.baseW === BASE_W ? BASE_W + 151 : BASE_W;
      return run.scene();
    });
    expect(run.stages).toEqual([1]);
    expect(run.learnedW()).toEqual([null]);
  });

  it("not if another load is switched meanwhile, or a modulating one runs", () => {
    const run = new Metered([one({ id: "a" }), one({ id: "b", priority: 2 })], [800, 800]);
    run.pass(READY_MS);
    run.during(MINUTE_MS, () => {
      run.baseW = run.baseW === BASE_W ? BASE_W + 500 : BASE_W;
      return run.scene();
    });
    expect(run.stages).toEqual([1, 1]);
    run.pass(MINUTE_MS);
    expect(run.learnedW()).toEqual([null]);
    const follower = one({
      id: "b",
      priority: 2,
      modulating: { minW: 1000, maxW: 1500, stepW: 500, riseWPerS: 0.1 },
    });
    const beside = new Metered([follower, one({ id: "c", priority: 3 })], [1000, 800]);
    beside.pass(20 * MINUTE_MS);
    expect(beside.stages).toEqual([1, 1]);
    expect(beside.learnedW(1)).toEqual([null]);
  });

  it("not if a load was shed just before", () => {
    const quick = { minRunMs: 0, minRestMs: 0, startForMs: 0 };
    const run = new Metered(
      [
        one({ id: "a", ...quick, quotaRunMs: 10 * MINUTE_MS }),
        one({
          id: "b",
          priority: 2,
          ...quick,
          minRestMs: 10 * MINUTE_MS + 50_000,
          settleMs: MINUTE_MS,
        }),
      ],
      [800, 800],
    );
    run.pass(13 * MINUTE_MS);
    expect(run.stages).toEqual([0, 1]);
    expect(run.memory.lastStopMs).toBeLessThan(run.memory.lastStartMs);
    expect(run.learnedW(1)).toEqual([null]);
  });

  it("not from an inverter that says nothing new, or nothing at all", () => {
    for (const powerW of [fresh(1100, 10 * MINUTE_MS), lost(1100)]) {
      const run = new Metered([one()], [800]);
      run.during(READY_MS, () => run.scene());
      run.during(MINUTE_MS, () => run.scene({ inverter: { powerW } }));
      expect(run.learnedW()).toEqual([null]);
    }
  });

  it.each([
    [199, null],
    [200, 220],
  ])("a load of %d W teaches %j", (ratedW, learnedW) => {
    const run = new Metered([one({ stagesW: [ratedW] })], [220]);
    run.pass(READY_MS + MINUTE_MS);
    expect(run.learnedW()).toEqual([learnedW]);
  });

  it("not while it is on by hand before", () => {
    const run = new Metered([one()], [800]);
    run.during(2 * MINUTE_MS, () => run.scene({ loads: run.loads({ reportedStage: fresh(1) }) }));
    expect(run.memory.loads[0]).toMatchObject({ isByHand: true, draw: { powerBeforeW: null } });
  });
});

describe("what was learned counts in the allocation", () => {
  function again(actualW: number, currentA: number) {
    const run = new Metered([one({ hasMeter: true, minRunMs: HOUR_MS })], [actualW]);
    run.pass(READY_MS + MINUTE_MS);
    run.pass(HOUR_MS + 5 * MINUTE_MS, { socFraction: 0.91 });
    expect(run.stages).toEqual([0]);
    // Just over its start mark, so that the band can lend next to nothing.
    return run.pass(10 * MINUTE_MS, { currentA, socFraction: 0.9601 }).verdicts[0]?.code;
  }

  it("for power: one that draws less starts on less, one that draws more on more", () => {
    // 17 A × 54 V × 0.92 = 845 W; 21 A are 1043 W.
    expect(again(800, 17)).toBe("running");
    expect(again(1000, 17)).toBe("waiting-power");
    expect(again(1200, 21)).toBe("waiting-power");
  });

  it("for the feeder the larger of learned and rated", () => {
    for (const [actualW, feederMaxW, code] of [
      [800, 999, "waiting-feeder"],
      [800, 1000, "running"],
      [1200, 1199, "waiting-feeder"],
      [1200, 1200, "running"],
    ] as const) {
      const loads = [one({ hasMeter: true, panelIndex: 0 })];
      const run = new Run(site({ panels: [panel({ feederMaxW: 7360 })], loads }));
      const scene = () => ({
        ...PLENTY,
        loads: run.loads({ powerW: fresh(run.stages[0] === 1 ? actualW : 0) }),
      });
      run.during(7 * MINUTE_MS, scene);
      const narrow = new Run(site({ panels: [panel({ feederMaxW })], loads }));
      narrow.memory = run.memory;
      narrow.atMs = run.atMs;
      narrow.during(20 * MINUTE_MS, () => ({
        ...PLENTY,
        socFraction: 0.91,
        loads: narrow.loads({ powerW: fresh(narrow.stages[0] === 1 ? actualW : 0) }),
      }));
      expect(narrow.stages).toEqual([0]);
      narrow.during(10 * MINUTE_MS, () => ({
        ...PLENTY,
        loads: narrow.loads({ powerW: fresh(narrow.stages[0] === 1 ? actualW : 0) }),
      }));
      expect(narrow.decision?.verdicts[0]?.code).toBe(code);
    }
  });
});

describe("a load that is on and draws nothing", () => {
  const heater = one({ hasMeter: true });

  it("is stopped a minute after it has settled, within its minimum run", () => {
    const run = new Metered([heater], [3]);
    // It starts at 5 min; the first tick that counts is the one at which it has settled.
    run.pass(READY_MS + SETTLE_MS + IDLE_MS - TICK_MS);
    expect(run.stages).toEqual([1]);
    const decision = run.pass(TICK_MS);
    expect(decision.loadStages).toEqual([0]);
    expect(decision.verdicts[0]).toMatchObject({
      code: "idle-no-power",
      remainingMs: 30 * MINUTE_MS,
    });
  });

  it("waits half an hour longer each time, four hours at most", () => {
    const run = new Metered([heater], [3]);
    const startsAtMs: number[] = [];
    run.during(24 * HOUR_MS, () => {
      const { startedAtMs } = run.memory.loads[0] ?? { startedAtMs: null };
      if (startedAtMs !== null && startsAtMs.at(-1) !== startedAtMs) startsAtMs.push(startedAtMs);
      return run.scene({ over: { isWallClockPlausible: false } });
    });
    const onMs = SETTLE_MS + IDLE_MS;
    const waitsMin = startsAtMs
      .slice(1)
      .map((startedAtMs, at) => (startedAtMs - (startsAtMs[at] ?? 0) - onMs) / MINUTE_MS);
    expect(waitsMin).toEqual([30, 60, 90, 120, 150, 180, 210, 240, 240]);
    run.pass(12 * HOUR_MS, { over: { isWallClockPlausible: false } });
    expect(run.memory.loads[0]?.draw.idleTimes).toBeGreaterThan(8);
    expect(run.decision?.verdicts[0]?.remainingMs).toBeLessThanOrEqual(4 * HOUR_MS);
  });

  it("is as before once it draws again, or a person clears it", () => {
    const run = new Metered([heater], [3]);
    run.pass(40 * MINUTE_MS);
    expect(run.memory.loads[0]?.draw.idleTimes).toBe(2);
    run.actualW = [1000];
    run.pass(HOUR_MS + MINUTE_MS);
    expect(run.stages).toEqual([1]);
    expect(run.memory.loads[0]?.draw.idleTimes).toBe(0);
    const other = new Metered([heater], [3]);
    other.pass(10 * MINUTE_MS);
    expect(other.stages).toEqual([0]);
    other.tick(other.scene({ loads: other.loads({ powerW: fresh(0), request: "clear" }) }));
    other.pass(TICK_MS);
    expect(other.memory.loads[0]?.draw.idleTimes).toBe(0);
  });

  it("has a thermostat of its own if it has drawn before, or heats a tank", () => {
    const run = new Metered([heater], [1000]);
    run.pass(READY_MS + MINUTE_MS);
    run.actualW = [3];
    run.pass(IDLE_MS + TICK_MS);
    expect(run.decision?.verdicts[0]?.code).toBe("idle-thermostat");
    const tank = { surplusC: 68, hysteresisK: 4, limitC: 75, volumeL: null };
    const boiler = new Run(site({ loads: [one({ hasMeter: true, tank })] }));
    boiler.during(READY_MS + SETTLE_MS + IDLE_MS, () => ({
      loads: boiler.loads({ powerW: fresh(0), tankTemperatureC: fresh(50) }),
    }));
    expect(boiler.decision?.verdicts[0]?.code).toBe("idle-thermostat");
  });

  it("is not held for dead where the meter alone tells what the switch does", () => {
    const run = new Metered([one({ hasMeter: true, hasReport: false })], [1000]);
    run.pass(READY_MS + 5 * MINUTE_MS);
    run.actualW = [3];
    run.pass(IDLE_MS + TICK_MS);
    expect(run.stages).toEqual([0]);
    expect(run.decision?.verdicts[0]?.code).toBe("idle-thermostat");
    run.pass(12 * HOUR_MS);
    expect(run.memory.loads[0]).toMatchObject({ latch: "none", failedConfirmations: 0 });
    run.actualW = [1000];
    run.pass(5 * HOUR_MS);
    expect(run.stages).toEqual([1]);
  });

  it("is dead all the same if it has never drawn, or its meter falls silent", () => {
    const never = new Metered([one({ hasMeter: true, hasReport: false })], [3]);
    never.pass(READY_MS + HOUR_MS);
    expect(never.memory.loads[0]?.latch).toBe("latched-dead");
    const silent = new Metered([one({ hasMeter: true, hasReport: false, latchAfter: 1 })], [1000]);
    silent.pass(READY_MS + 5 * MINUTE_MS);
    silent.pass(SETTLE_MS + TICK_MS, { loads: silent.loads({ powerW: lost(1000) }) });
    expect(silent.stages).toEqual([0]);
    expect(silent.memory.loads[0]?.latch).toBe("latched-dead");
  });

  it("shows in the inverter's power too, but only if that has shown the load before", () => {
    const never = new Metered([one()], [0]);
    never.pass(READY_MS + 10 * MINUTE_MS);
    expect(never.stages).toEqual([1]);
    const run = new Metered([one({ minRunMs: 0 })], [1000]);
    run.pass(READY_MS + MINUTE_MS);
    run.pass(5 * MINUTE_MS, { socFraction: 0.91 });
    run.actualW = [0];
    run.pass(10 * MINUTE_MS);
    expect(run.stages).toEqual([0]);
    expect(run.decision?.verdicts[0]?.code).toBe("idle-thermostat");
  });

  it("is not told by an inverter that gives less than before its start", () => {
    const run = new Metered([one({ minRunMs: 0 })], [1000]);
    run.baseW = 2300;
    run.pass(READY_MS + MINUTE_MS);
    run.pass(8 * MINUTE_MS, { socFraction: 0.91 });
    // A kettle goes off in the seconds of the start: the load looks as if it gave power.
    run.during(10 * MINUTE_MS, () => {
      run.baseW = run.stages[0] === 1 ? BASE_W : 2300;
      return run.scene();
    });
    expect(run.stages).toEqual([1]);
    expect(run.memory.loads[0]?.draw).toMatchObject({ idleTimes: 0, powerBeforeW: null });
  });

  it("may be sockets with nothing plugged in: they stay live", () => {
    const sockets = {
      maximumW: 2000,
      warnMs: 0,
      finishGraceMs: 0,
      hasRequest: false,
      requestMs: 0,
    };
    for (const hasReport of [true, false]) {
      const run = new Metered([one({ hasMeter: true, hasReport, sockets })], [0]);
      run.pass(READY_MS + 10 * MINUTE_MS);
      expect(run.stages).toEqual([1]);
    }
  });
});

describe("a motor that starts", () => {
  it("has the inverter to itself for its starting time", () => {
    const motor = { startPowerVA: 3000, startPowerMs: 2 * MINUTE_MS };
    const run = new Metered(
      [one({ id: "a", ...motor }), one({ id: "b", priority: 2 })],
      [800, 800],
    );
    run.pass(READY_MS + 2 * MINUTE_MS - TICK_MS);
    expect(run.stages).toEqual([1, 0]);
    expect(run.decision?.verdicts[1]?.code).toBe("waiting-stagger");
    run.pass(TICK_MS);
    expect(run.stages).toEqual([1, 1]);
  });
});
