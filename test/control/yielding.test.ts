import { describe, expect, it } from "vitest";
import type { LoadSettings } from "../../service/control/settings.ts";
import { fresh, HOUR_MS, load, MINUTE_MS, panel, panelObservation, Run, site } from "./given.ts";
import type { Scene } from "./given.ts";

const BASE_W = 300;
const EFFICIENCY = 0.92;
const HELD_BACK_V = 56;

/** What is offered goes to the loads that run, what remains to the battery. */
function scene(run: Run, offerW: number, wanting: readonly boolean[]): Scene {
  const drawnW = run.memory.loads.reduce((sum, { powerW }) => sum + powerW, 0);
  const batteryW = offerW - drawnW / EFFICIENCY;
  return {
    // So near the start mark that the band can lend next to nothing.
    socFraction: 0.9601,
    currentA: batteryW / 54,
    inverterW: BASE_W + drawnW,
    loads: run.memory.loads.map((memory, index) => ({
      ...run.loads()[0]!,
      reportedStage: fresh(memory.stage),
      powerW: fresh(memory.powerW),
      tankTemperatureC: fresh(wanting[index] === true ? 40 : 70),
    })),
    panels: run.memory.panels.map(({ isClosed }) =>
      panelObservation({ isClosed: fresh(isClosed) }),
    ),
  };
}

function thirsty(over: Partial<LoadSettings>): LoadSettings {
  return load({
    minRunMs: 30 * MINUTE_MS,
    hasMeter: true,
    tank: { surplusC: 60, hysteresisK: 4, limitC: 75, volumeL: null },
    ...over,
  });
}

function shed(loads: readonly LoadSettings[], over: Parameters<typeof site>[0] = {}): Run {
  return new Run(site({ loads, ...over }));
}

describe("a load that ranks before those that run", () => {
  const first = thirsty({ id: "first", stagesW: [2000] });
  const second = thirsty({ id: "second", stagesW: [500], priority: 2, minRunMs: 5 * MINUTE_MS });
  const third = thirsty({ id: "third", stagesW: [1600], priority: 3, minRunMs: 5 * MINUTE_MS });

  function busy(offerW: number): Run {
    const run = shed([first, second, third]);
    run.during(20 * MINUTE_MS, () => scene(run, offerW, [false, true, true]));
    expect(run.stages).toEqual([0, 1, 1]);
    return run;
  }

  it("has the last stopped if that is enough, and starts in its place", () => {
    const run = busy(2800);
    run.during(5 * MINUTE_MS, () => scene(run, 2800, [true, true, true]));
    expect(run.stages).toEqual([1, 1, 0]);
  });

  it("has as many stopped as it needs, one by one", () => {
    const run = busy(2300);
    const seen: string[] = [];
    run.during(5 * MINUTE_MS, () => {
      seen.push(run.stages.join(""));
      return scene(run, 2300, [true, true, true]);
    });
    expect(run.stages).toEqual([1, 0, 0]);
    expect([...new Set(seen)]).toEqual(["011", "010", "000", "100"]);
  });

  it("leaves the time between two stops between them, however fast the readings follow", () => {
    const staggerMs = 3 * MINUTE_MS;
    const run = shed([first, second, third], { staggerMs });
    run.during(25 * MINUTE_MS, () => scene(run, 2300, [false, true, true]));
    expect(run.stages).toEqual([0, 1, 1]);
    const stoppedAtMs = new Map<number, number>();
    run.during(10 * MINUTE_MS, () => {
      for (const index of [1, 2]) {
        if (run.stages[index] === 0 && !stoppedAtMs.has(index)) {
          stoppedAtMs.set(index, run.memory.lastTickMs ?? 0);
        }
      }
      return scene(run, 2300, [true, true, true]);
    });
    const betweenMs = (stoppedAtMs.get(1) ?? 0) - (stoppedAtMs.get(2) ?? Infinity);
    expect(betweenMs).toBeGreaterThanOrEqual(staggerMs);
    expect(betweenMs).toBeLessThan(staggerMs + MINUTE_MS);
  });

  it("stops nobody if even all of them would not be enough", () => {
    const run = busy(2300);
    run.during(10 * MINUTE_MS, () => scene(run, 2150, [true, true, true]));
    expect(run.stages).toEqual([0, 1, 1]);
  });

  it("spares a load that is not needed on the way to the one that is", () => {
    const big = { ...second, stagesW: [1600] };
    const small = { ...third, stagesW: [300] };
    const run = shed([first, big, small]);
    run.during(20 * MINUTE_MS, () => scene(run, 2600, [false, true, true]));
    expect(run.stages).toEqual([0, 1, 1]);
    run.during(5 * MINUTE_MS, () => scene(run, 2600, [true, true, true]));
    expect(run.stages).toEqual([1, 0, 1]);
  });

  it("waits for their minimum runs", () => {
    const run = shed([first, { ...second, minRunMs: HOUR_MS }, { ...third, minRunMs: HOUR_MS }]);
    run.during(20 * MINUTE_MS, () => scene(run, 2800, [false, true, true]));
    run.during(15 * MINUTE_MS, () => scene(run, 2800, [true, true, true]));
    expect(run.stages).toEqual([0, 1, 1]);
    run.during(45 * MINUTE_MS, () => scene(run, 2800, [true, true, true]));
    expect(run.stages).toEqual([1, 1, 0]);
  });

  it("does not stop one that draws nothing", () => {
    const run = busy(2800);
    const codes = new Set<string | undefined>();
    // Its own thermostat has opened: it frees nothing by going.
    run.during(4 * MINUTE_MS, () => {
      for (const verdict of run.decision?.verdicts ?? []) codes.add(verdict.code);
      const seen = scene(run, 1000, [true, true, true]);
      return { ...seen, loads: seen.loads?.map((one) => ({ ...one, powerW: fresh(0) })) ?? [] };
    });
    expect(run.stages[0]).toBe(0);
    expect([...codes]).toContain("idle-thermostat");
    expect([...codes]).not.toContain("stopped-displaced");
  });

  it("makes room on its panel's feeder too", () => {
    const onPanel = (own: LoadSettings) => ({ ...own, panelIndex: 0 });
    const run = shed([onPanel(first), onPanel(third)], { panels: [panel({ feederMaxW: 2500 })] });
    run.during(20 * MINUTE_MS, () => scene(run, 6000, [false, true]));
    expect(run.stages).toEqual([0, 1]);
    run.during(5 * MINUTE_MS, () => scene(run, 6000, [true, true]));
    expect(run.stages).toEqual([1, 0]);
  });

  it("keeps others from starting on what is being freed for it", () => {
    const fourth = thirsty({ id: "fourth", stagesW: [1000], priority: 4 });
    const run = shed([first, second, third, fourth]);
    run.during(20 * MINUTE_MS, () => scene(run, 2300, [false, true, true, false]));
    expect(run.stages).toEqual([0, 1, 1, 0]);
    run.during(4 * MINUTE_MS, () => scene(run, 2300, [true, true, true, true]));
    expect(run.stages).toEqual([1, 0, 0, 0]);
  });
});

describe("two loads of one rank that do not fit beside one another", () => {
  it("take turns, so that a day gives both alike", () => {
    const alike = (id: string) =>
      thirsty({ id, stagesW: [1500], minRunMs: 10 * MINUTE_MS, minRestMs: 5 * MINUTE_MS });
    const run = shed([alike("a"), alike("b")]);
    run.during(8 * HOUR_MS, () => scene(run, 2000, [true, true]));
    const [a = 0, b = 0] = run.memory.loads.map(({ usedTodayWh }) => usedTodayWh);
    expect(a + b).toBeGreaterThan(0.85 * 8 * 1500);
    expect(Math.abs(a - b)).toBeLessThanOrEqual(0.75 * 1500);
  });
});

describe("a try on what the band lends", () => {
  const heater = load({ stagesW: [1000], isTolerant: true, minRunMs: 5 * MINUTE_MS });
  /** 4 % over the curve by day, the array held back, and a sky that gives the load nothing. */
  const weak = (run: Run): Scene => ({
    socFraction: 0.98,
    voltageV: run.stages[0] === 0 ? HELD_BACK_V : 53,
    currentA: run.stages[0] === 0 ? 1 : -20,
  });

  it("that fails is not repeated for 10, then 20, then 40 minutes", () => {
    const run = shed([{ ...heater, minRestMs: 0, startForMs: 0 }]);
    const startsAtMs: number[] = [];
    let last = 0;
    run.during(3 * HOUR_MS, () => {
      const stage = run.stages[0] ?? 0;
      if (stage > last) startsAtMs.push(run.atMs);
      last = stage;
      return weak(run);
    });
    const gapsMin = startsAtMs.slice(1).map((at, index) => {
      return Math.round((at - (startsAtMs[index] ?? 0)) / MINUTE_MS);
    });
    // Each try lasts its minimum run before it is given up.
    expect(gapsMin.slice(0, 3)).toEqual([15, 25, 45]);
  });

  it("is forgotten by the next day", () => {
    const run = shed([{ ...heater, minRestMs: 0 }]);
    run.during(2 * HOUR_MS, () => weak(run));
    expect(run.memory.loads[0]?.failedTries).toBeGreaterThan(1);
    run.tick({ ...weak(run), over: { localDay: 20_626 } });
    expect(run.memory.loads[0]?.failedTries).toBe(0);
    expect(run.memory.loads[0]?.tryAfterMs).toBeLessThanOrEqual(run.atMs);
  });

  it("that holds for its time is none any more", () => {
    const run = shed([heater]);
    const enough = { socFraction: 0.98, voltageV: HELD_BACK_V, currentA: 1 };
    run.during(8 * MINUTE_MS, enough);
    expect(run.memory.loads[0]).toMatchObject({ stage: 1, isTry: true });
    run.during(4 * MINUTE_MS, enough);
    expect(run.memory.loads[0]).toMatchObject({ stage: 1, isTry: false, failedTries: 0 });
    // From now on the band carries it through a cloud, as it would any other load.
    run.during(5 * MINUTE_MS, () => ({ socFraction: 0.98, currentA: -20 }));
    expect(run.stages).toEqual([1]);
  });

  it("of a higher stage steps back down, and the lower one stays", () => {
    const run = shed([load({ isTolerant: true, minRunMs: 5 * MINUTE_MS })]);
    run.during(8 * MINUTE_MS, { socFraction: 0.97, voltageV: HELD_BACK_V, currentA: 8 });
    expect(run.stages).toEqual([2]);
    run.during(8 * MINUTE_MS, () => ({
      socFraction: 0.97,
      currentA: run.stages[0] === 2 ? -15 : 4,
    }));
    expect(run.stages).toEqual([1]);
    expect(run.memory.loads[0]?.failedTries).toBe(1);
  });

  it("is not for loads that may not be tried: the band must carry their whole run", () => {
    const shy = load({ stagesW: [1000], minRunMs: 30 * MINUTE_MS });
    const scarce: Scene = { socFraction: 0.9601, voltageV: HELD_BACK_V, currentA: 15 };
    const bold = shed([{ ...shy, isTolerant: true }]);
    const careful = shed([shy]);
    bold.during(10 * MINUTE_MS, scarce);
    careful.during(10 * MINUTE_MS, scarce);
    expect(bold.stages).toEqual([1]);
    expect(careful.stages).toEqual([0]);
  });
});
