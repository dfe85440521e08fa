/**
 * A load that can't run must not keep others from running, have them stopped, or take their room;
 * and room that nobody has seen yet is not given twice.
 */
import { describe, expect, it } from "vitest";
import type { Decision } from "../../service/control/decision.ts";
import type { LoadObservation } from "../../service/control/observation.ts";
import type { LoadSettings } from "../../service/control/settings.ts";
import { fresh, HOUR_MS, load as givenLoad, loadObservation, lost, MINUTE_MS } from "./given.ts";
import { panel, Run, site, TICK_MS, unmapped } from "./given.ts";
import type { Scene } from "./given.ts";

const READY_MS = 8 * MINUTE_MS;
const EFFICIENCY = 0.92;
const codesOf = (decision: Decision | null) =>
  (decision?.verdicts ?? []).map((verdict) => verdict.code);

/** It starts on the rule curve itself, where the band lends nothing. */
const load = (over: Partial<LoadSettings>) => givenLoad({ startAboveFraction: 0, ...over });
const pump = (over: Partial<LoadSettings> = {}) =>
  load({
    id: "pump",
    stagesW: [1000],
    pump: { dryRun: null, hasSourceContact: true, level: null, pipeMinC: null },
    ...over,
  });

/** What is offered goes to the loads that run, what remains to the battery. */
function offered(run: Run, offerW: number, over: Partial<LoadObservation> = {}): Scene {
  const drawnW = run.memory.loads.reduce((sum, { powerW }) => sum + powerW, 0);
  return {
    socFraction: 0.94,
    currentA: (offerW - drawnW / EFFICIENCY) / 54,
    inverterW: 300 + drawnW,
    loads: run.memory.loads.map(({ stage, powerW }, index) =>
      loadObservation({
        reportedStage: fresh(stage),
        powerW: run.settings.loads[index]?.hasMeter === true ? fresh(powerW) : unmapped,
        ...(index === 0 ? over : {}),
      }),
    ),
  };
}

describe("a load that an interlock would stop at once", () => {
  const dry = { isSourceLow: fresh(true) };

  it("does not keep those ranked after it from starting", () => {
    const run = new Run(site({ loads: [pump(), load({ id: "next", priority: 2 })] }));
    run.during(READY_MS, () => offered(run, 5000, dry));
    expect(run.stages).toEqual([0, 2]);
    expect(codesOf(run.decision)).toEqual(["pump-source-low", "running"]);
  });

  it("has nobody stopped for it", () => {
    const next = load({ id: "next", priority: 2, stagesW: [1000], minRunMs: MINUTE_MS });
    const run = new Run(site({ loads: [pump(), next] }));
    run.during(HOUR_MS, () => offered(run, 1500, dry));
    expect(run.memory.loads[1]).toMatchObject({ stage: 1, startsToday: 1 });
  });

  it("takes nothing from a load whose power is set", () => {
    const limits = { minW: 200, maxW: 3000, stepW: 10, riseWPerS: 30 };
    const heater = load({ id: "next", priority: 2, stagesW: [200], modulating: limits });
    const run = new Run(site({ loads: [pump(), { ...heater, isTolerant: true }] }));
    run.during(30 * MINUTE_MS, () => offered(run, 2000, dry));
    expect(run.memory.loads[1]?.powerW).toBeGreaterThan(1600);
  });

  it("on a latched panel is served by nobody's loss", () => {
    const settings = site({
      panels: [panel()],
      loads: [
        load({ id: "behind", panelIndex: 0, stagesW: [1000] }),
        load({ id: "next", priority: 2, stagesW: [1000], minRunMs: MINUTE_MS }),
      ],
    });
    const run = new Run(settings);
    run.memory = {
      ...run.memory,
      panels: run.memory.panels.map((one) => ({ ...one, isLatched: true })),
    };
    run.during(HOUR_MS, () => offered(run, 1500));
    expect(codesOf(run.decision)).toEqual(["latched-panel", "running"]);
    expect(run.memory.loads[1]?.startsToday).toBe(1);
  });
});

describe("a load behind a contactor", () => {
  const behind = load({ id: "behind", panelIndex: 0, stagesW: [1000], minRunMs: MINUTE_MS });
  const next = load({ id: "next", priority: 2, stagesW: [1000], minRunMs: 30 * MINUTE_MS });
  const settings = site({ panels: [panel()], loads: [behind, next] });

  it("keeps its turn while the contactor closes", () => {
    const run = new Run(settings);
    run.during(READY_MS, () => offered(run, 1500));
    expect(run.stages).toEqual([1, 0]);
  });

  it("that can't close as a member is silent has nobody wait or stop for it", () => {
    const run = new Run(settings);
    run.during(HOUR_MS, () => offered(run, 1500, { reportedStage: lost(0) }));
    expect(codesOf(run.decision)).toEqual(["waiting-contactor", "running"]);
    expect(run.memory.loads[1]?.startsToday).toBe(1);
    expect(run.memory.panels[0]?.verdict).toBe("panel-waits-members");
  });
});

/** Readings that arrive every so often, and show the present a moment later. */
function delayed(run: Run, everyMs: number, sceneNow: () => Scene): () => Scene {
  let taken: { readonly atMs: number; readonly scene: Scene } | null = null;
  return () => {
    const atMs = run.atMs + TICK_MS;
    if (taken === null || atMs - taken.atMs >= everyMs) taken = { atMs, scene: sceneNow() };
    const ageMs = atMs - taken.atMs;
    const { scene } = taken;
    return {
      ...sceneNow(),
      battery: { currentA: fresh(scene.currentA ?? 0, ageMs) },
      inverter: { powerW: fresh(scene.inverterW ?? 0, ageMs) },
    };
  };
}

describe("readings older than the last switching", () => {
  it.each(["the inverter's power", "a leg's power"])(
    "of %s start no second load on the room that the first has taken",
    (name) => {
      const isLeg = name.startsWith("a leg");
      const legs = ["L1", "L2"].map((id) => ({ id, continuousVA: 5000 }));
      const one = { stagesW: [3000], minRunMs: HOUR_MS, legIndex: isLeg ? 0 : null };
      const rated = isLeg ? { legs } : { continuousW: 5000, continuousVA: 5000 };
      const run = new Run(
        site({
          inverter: { ...site().inverter, ...rated },
          loads: [load({ id: "a", ...one }), load({ id: "b", priority: 2, ...one })],
        }),
      );
      let oldW = 0;
      run.during(READY_MS, () => {
        const scene = offered(run, 9000);
        // The battery's current is measured at each tick, this once a minute.
        const ageMs = (run.atMs + MINUTE_MS / 2) % MINUTE_MS;
        if (ageMs === 0) oldW = scene.inverterW ?? 0;
        const old = fresh(oldW, ageMs);
        return { ...scene, inverter: isLeg ? { legPowersW: [old, fresh(0)] } : { powerW: old } };
      });
      expect(run.stages).toEqual([1, 0]);
    },
  );

  it("taken before a started load had settled start no second one on its power", () => {
    const one = { stagesW: [1500], minRunMs: HOUR_MS, settleMs: 40_000 };
    const run = new Run(
      site({ staggerMs: 10_000, loads: [load({ id: "a", ...one }), load({ id: "b", ...one })] }),
    );
    const startedAtMs = () => Math.max(...run.memory.loads.map((m) => m.startedAtMs ?? -HOUR_MS));
    run.during(READY_MS, () => {
      // The load ramps up: nothing of it shows for 30 s. The current is told 30 s late.
      const isSeen = run.atMs + TICK_MS - startedAtMs() > 60_000;
      const scene = offered(run, 2000);
      const currentA = isSeen ? (scene.currentA ?? 0) : 2000 / 54;
      return { ...scene, battery: { currentA: fresh(currentA, 30_000) } };
    });
    expect(run.stages.toSorted()).toEqual([0, 1]);
  });

  it("hold the next start until a motor has started and settled", () => {
    const motor = { startPowerVA: 3000, startPowerMs: 90_000, settleMs: 10_000 };
    const run = new Run(
      site({
        staggerMs: 10_000,
        loads: [
          load({ id: "motor", stagesW: [1000], ...motor }),
          load({ id: "next", priority: 2, stagesW: [1000] }),
        ],
      }),
    );
    run.during(10 * MINUTE_MS, () => offered(run, 9000));
    const [motorAtMs = 0, nextAtMs = 0] = run.memory.loads.map((one) => one.startedAtMs ?? 0);
    expect(nextAtMs - motorAtMs).toBe(90_000);
  });

  it("displace nobody but those that are needed", () => {
    const first = load({
      id: "first",
      stagesW: [900],
      windows: [{ fromMinute: 741, toMinute: 800 }],
    });
    const small = { stagesW: [1000], minRunMs: MINUTE_MS };
    const run = new Run(
      site({
        staggerMs: 10_000,
        loads: [
          first,
          load({ id: "second", priority: 2, ...small }),
          load({ id: "third", priority: 3, ...small }),
        ],
      }),
    );
    run.during(
      HOUR_MS,
      delayed(run, 40_000, () => offered(run, 2400)),
    );
    expect(run.stages).toEqual([1, 1, 0]);
    expect(run.memory.loads[1]?.startsToday).toBe(1);
  });

  it("shed nobody but the one that is needed", () => {
    const small = { stagesW: [1000], minRunMs: MINUTE_MS };
    const run = new Run(
      site({
        staggerMs: 10_000,
        loads: [
          load({ id: "first", ...small }),
          load({ id: "second", priority: 2, ...small }),
          load({ id: "third", priority: 3, ...small }),
        ],
      }),
    );
    run.during(
      20 * MINUTE_MS,
      delayed(run, 40_000, () => offered(run, 3600)),
    );
    expect(run.stages).toEqual([1, 1, 1]);
    run.during(
      20 * MINUTE_MS,
      delayed(run, 40_000, () => offered(run, 2400)),
    );
    expect(run.stages).toEqual([1, 1, 0]);
    expect(run.memory.loads[1]?.startsToday).toBe(1);
  });
});

describe("more power than before", () => {
  it("starts the first that waits before one that runs goes higher", () => {
    const loads = [
      load({ id: "first", stagesW: [1500], windows: [{ fromMinute: 735, toMinute: 800 }] }),
      load({ id: "second", priority: 2, stagesW: [500, 1500], minRunMs: HOUR_MS }),
    ];
    const run = new Run(site({ loads }));
    const seen: string[] = [];
    run.during(20 * MINUTE_MS, () => {
      seen.push(run.stages.join(""));
      return offered(run, run.atMs < 15 * MINUTE_MS - TICK_MS ? 1000 : 5000);
    });
    expect([...new Set(seen)]).toEqual(["00", "01", "11", "12"]);
  });
});
