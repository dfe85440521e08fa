import { describe, expect, it } from "vitest";
import type { LoadObservation } from "../../service/control/observation.ts";
import type { PumpSettings } from "../../service/control/settings.ts";
import { fresh, HOUR_MS, load, lost, MINUTE_MS, Run, site, TICK_MS } from "./given.ts";

const READY_MS = 5 * MINUTE_MS;
const BARE: PumpSettings = { dryRun: null, hasSourceContact: false, level: null, pipeMinC: null };
const DRY_RUN = { belowW: 300, belowLPerMin: null, forMs: 20_000 };

/** A spring pump that is well but for what `seen` says while it is on. */
class Pump extends Run {
  seen: Partial<LoadObservation> = {};

  constructor(pump: Partial<PumpSettings>, over: Parameters<typeof load>[0] = {}) {
    super(
      site({
        loads: [load({ stagesW: [750], hasMeter: true, pump: { ...BARE, ...pump }, ...over })],
      }),
    );
  }

  pass(durationMs: number, seen: Partial<LoadObservation> = {}) {
    return this.during(durationMs, () => ({
      loads: this.loads({
        powerW: fresh(this.stages[0] === 1 ? 700 : 0),
        flowLPerMin: fresh(this.stages[0] === 1 ? 30 : 0),
        isSourceLow: fresh(false),
        levelFraction: fresh(0.5),
        pipeTemperatureC: fresh(8),
        ...seen,
      }),
    }));
  }

  get code() {
    return this.decision?.verdicts[0]?.code;
  }

  get guard() {
    return this.memory.loads[0]?.guard;
  }
}

describe("a pump that runs dry", () => {
  it("is off when it has drawn too little for long enough, within its minimum run", () => {
    const run = new Pump({ dryRun: DRY_RUN });
    run.pass(READY_MS + 2 * MINUTE_MS);
    run.pass(20_000, { powerW: fresh(299) });
    expect(run.stages).toEqual([1]);
    const decision = run.pass(TICK_MS, { powerW: fresh(299) });
    expect(decision.loadStages).toEqual([0]);
    expect(decision.verdicts[0]).toMatchObject({ code: "pump-dry", measured: 299, limit: 300 });
  });

  it("goes on at the limit, and after a gap in the water that is short enough", () => {
    const run = new Pump({ dryRun: DRY_RUN });
    run.pass(READY_MS + 2 * MINUTE_MS);
    run.pass(5 * MINUTE_MS, { powerW: fresh(300) });
    run.pass(20_000, { powerW: fresh(250) });
    run.pass(TICK_MS);
    run.pass(20_000, { powerW: fresh(250) });
    expect(run.stages).toEqual([1]);
  });

  it("has its settling and starting time to draw water, and only what is measured then counts", () => {
    const run = new Pump({ dryRun: DRY_RUN }, { startPowerMs: 40_000, settleMs: 20_000 });
    run.pass(READY_MS);
    expect(run.stages).toEqual([1]);
    run.pass(60_000, { powerW: fresh(250) });
    expect(run.guard?.drySinceMs).toBe(READY_MS + 60_000);
    const old = new Pump({ dryRun: DRY_RUN });
    old.pass(READY_MS);
    old.pass(30_000, { powerW: fresh(250, 30_000) });
    expect(old.guard?.drySinceMs).toBeNull();
  });

  it("shows in its flow as well", () => {
    const run = new Pump({ dryRun: { belowW: null, belowLPerMin: 5, forMs: 0 } });
    run.pass(READY_MS + 2 * MINUTE_MS);
    run.pass(MINUTE_MS, { flowLPerMin: fresh(5) });
    expect(run.stages).toEqual([1]);
    run.pass(TICK_MS, { flowLPerMin: fresh(4.9) });
    expect(run.stages).toEqual([0]);
    expect(run.decision?.verdicts[0]).toMatchObject({ code: "pump-no-flow", measured: 4.9 });
  });

  it("rests for half an hour each time, and is latched after three in a row", () => {
    const run = new Pump({ dryRun: DRY_RUN });
    const dry = { powerW: fresh(250) };
    const startsAtMs: number[] = [];
    run.during(3 * HOUR_MS, () => {
      const startedAtMs = run.memory.loads[0]?.startedAtMs ?? null;
      if (startedAtMs !== null && startsAtMs.at(-1) !== startedAtMs) startsAtMs.push(startedAtMs);
      return { loads: run.loads(run.stages[0] === 1 ? dry : { powerW: fresh(0) }) };
    });
    expect(startsAtMs).toHaveLength(3);
    const [first = 0, second = 0] = startsAtMs;
    // Settling time, dry for 20 s, then the rest.
    expect(second - first).toBe(20_000 + 20_000 + 30 * MINUTE_MS);
    expect(run.code).toBe("latched-dry-run");
    run.tick({ loads: run.loads({ powerW: fresh(0), request: "clear" }) });
    expect(run.guard?.dryTimes).toBe(0);
    run.pass(TICK_MS);
    expect(run.stages).toEqual([1]);
  });

  it("is forgiven once it has run well for its minimum run", () => {
    const run = new Pump({ dryRun: DRY_RUN });
    run.pass(READY_MS + MINUTE_MS, { powerW: fresh(250) });
    expect(run.guard?.dryTimes).toBe(1);
    run.pass(35 * MINUTE_MS);
    expect(run.stages).toEqual([1]);
    expect(run.guard?.dryTimes).toBe(1);
    run.pass(10 * MINUTE_MS);
    expect(run.guard?.dryTimes).toBe(0);
  });

  it.each([
    ["meter", { powerW: lost(700) }, { belowW: 300, belowLPerMin: null, forMs: 0 }],
    ["flow", { flowLPerMin: lost(30) }, { belowW: null, belowLPerMin: 5, forMs: 0 }],
  ] as const)("is off at once when its %s is lost", (_name, seen, dryRun) => {
    const run = new Pump({ dryRun });
    run.pass(READY_MS + 2 * MINUTE_MS);
    run.pass(TICK_MS, seen);
    expect(run.stages).toEqual([0]);
    expect(run.code).toBe("pump-unwatched");
  });
});

describe("both ends of the pipe", () => {
  it.each([
    ["low", fresh(true), "pump-source-low"],
    ["not known", lost(false), "pump-source-unknown"],
  ] as const)("a source that is %s stops the pump at once", (_name, isSourceLow, code) => {
    const run = new Pump({ hasSourceContact: true });
    run.pass(READY_MS + MINUTE_MS);
    expect(run.stages).toEqual([1]);
    run.pass(TICK_MS, { isSourceLow });
    expect(run.stages).toEqual([0]);
    expect(run.code).toBe(code);
  });

  const level = { fullFraction: 0.95, resumeFraction: 0.8 };

  it("a full cistern stops it within its minimum run, and it fills again from the lower mark", () => {
    const run = new Pump({ level });
    run.pass(READY_MS + MINUTE_MS, { levelFraction: fresh(0.949) });
    expect(run.stages).toEqual([1]);
    run.pass(TICK_MS, { levelFraction: fresh(0.95) });
    expect(run.stages).toEqual([0]);
    expect(run.decision?.verdicts[0]).toMatchObject({ code: "cistern-full", measured: 0.95 });
    run.pass(HOUR_MS, { levelFraction: fresh(0.801) });
    expect(run.code).toBe("cistern-full");
    run.pass(TICK_MS, { levelFraction: fresh(0.8) });
    expect(run.stages).toEqual([1]);
  });

  it("a level that is lost stops it at once, and changes nothing about what it wants", () => {
    const run = new Pump({ level });
    run.pass(READY_MS + MINUTE_MS);
    run.pass(TICK_MS, { levelFraction: lost(0.99) });
    expect(run.stages).toEqual([0]);
    expect(run.code).toBe("level-unknown");
    expect(run.guard?.wantsFilling).toBe(true);
  });

  it.each([
    ["cold", fresh(1.99), "pipe-cold"],
    ["not known", lost(8), "pipe-unknown"],
  ] as const)("a pipe that is %s stops it at once", (_name, pipeTemperatureC, code) => {
    const run = new Pump({ pipeMinC: 2 });
    run.pass(READY_MS + MINUTE_MS, { pipeTemperatureC: fresh(2) });
    expect(run.stages).toEqual([1]);
    run.pass(TICK_MS, { pipeTemperatureC });
    expect(run.stages).toEqual([0]);
    expect(run.code).toBe(code);
  });

  it("a pump that has none of it is not asked", () => {
    const run = new Pump({});
    const all = { isSourceLow: lost(true), levelFraction: lost(1), pipeTemperatureC: lost(-5) };
    run.pass(READY_MS + MINUTE_MS, { ...all, flowLPerMin: lost(0) });
    expect(run.stages).toEqual([1]);
  });
});
