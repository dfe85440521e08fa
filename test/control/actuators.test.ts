import { describe, expect, it } from "vitest";
import type { LoadObservation } from "../../service/control/observation.ts";
import {
  fresh,
  load,
  lost,
  MINUTE_MS,
  panel,
  panelObservation,
  Run,
  site,
  TICK_MS,
} from "./given.ts";

const READY_MS = 6 * MINUTE_MS;
const RETRY_MS = 2 * MINUTE_MS;

function metered(): Run {
  return new Run(site({ loads: [load({ stagesW: [1000], hasMeter: true })] }));
}

/** A meter that shows what is commanded. */
function honestly(run: Run) {
  return () => ({ loads: run.loads({ powerW: fresh(run.stages[0] === 1 ? 1000 : 0) }) });
}

function says(run: Run, over: Partial<LoadObservation>) {
  return () => ({ loads: run.loads(over) });
}

describe("a start that is not confirmed", () => {
  it("is taken back after its settling time and tried again later", () => {
    const run = new Run(site());
    const dead = says(run, { reportedStage: fresh(0) });
    run.during(5 * MINUTE_MS, dead);
    expect(run.stages).toEqual([2]);
    run.during(20_000, dead);
    expect(run.stages).toEqual([2]);
    const decision = run.during(TICK_MS, dead);
    expect(run.stages).toEqual([0]);
    expect(decision.verdicts[0]).toMatchObject({ code: "unconfirmed", measured: 1, limit: 3 });
    run.during(RETRY_MS - TICK_MS, dead);
    expect(run.stages).toEqual([0]);
  });

  it("latches as dead after three in a row, until a person clears it", () => {
    const run = new Run(site());
    const dead = says(run, { reportedStage: fresh(0) });
    const decision = run.during(60 * MINUTE_MS, dead);
    expect(decision.verdicts[0]).toMatchObject({ code: "latched-dead", measured: 3 });
    expect(run.memory.loads[0]?.startsToday).toBe(3);
    run.tick({ loads: run.loads({ request: "clear" }) });
    run.during(TICK_MS);
    expect(run.stages).toEqual([2]);
  });

  it("forgets its failures once a start is confirmed", () => {
    const run = new Run(site());
    run.during(READY_MS, says(run, { reportedStage: fresh(0) }));
    expect(run.memory.loads[0]?.failedConfirmations).toBe(1);
    run.during(20 * MINUTE_MS);
    expect(run.stages).toEqual([2]);
    expect(run.memory.loads[0]?.failedConfirmations).toBe(0);
  });

  it("counts a report of another stage, and silence, as no confirmation", () => {
    for (const reportedStage of [fresh(1), lost(0, "waiting"), lost(2, "retained")]) {
      const run = new Run(site());
      run.during(READY_MS, () =>
        run.stages[0] === 0 ? {} : { loads: run.loads({ reportedStage }) },
      );
      expect(run.memory.loads[0]?.failedConfirmations).toBe(1);
    }
  });

  it("is noticed too when the device drops out in the middle of a run", () => {
    const run = new Run(site());
    run.during(20 * MINUTE_MS);
    expect(run.stages).toEqual([2]);
    run.during(30_000, says(run, { reportedStage: fresh(0) }));
    expect(run.stages).toEqual([0]);
    expect(run.decision?.verdicts[0]?.code).toBe("unconfirmed");
  });
});

describe("a load that stays on after OFF", () => {
  function welded(over: Partial<LoadObservation>, run = metered()): Run {
    run.during(20 * MINUTE_MS, honestly(run));
    expect(run.stages).toEqual([1]);
    run.during(2 * MINUTE_MS, () => ({
      socFraction: 0.91,
      loads: run.loads({ powerW: fresh(1000), ...over }),
    }));
    expect(run.stages).toEqual([0]);
    return run;
  }

  it("is latched as welded after the settling time", () => {
    const run = welded({});
    expect(run.memory.loads[0]?.latch).toBe("latched-welded");
    run.during(60 * MINUTE_MS, says(run, { powerW: fresh(0) }));
    expect(run.stages).toEqual([0]);
    run.tick({ loads: run.loads({ powerW: fresh(0), request: "clear" }) });
    run.during(TICK_MS, says(run, { powerW: fresh(0) }));
    expect(run.stages).toEqual([1]);
  });

  it("is by hand if a mode input says so", () => {
    const run = welded({ isByHand: fresh(true) });
    expect(run.memory.loads[0]).toMatchObject({ latch: "none", isByHand: true });
  });

  it("opens its panel's contactor at once, and keeps it open", () => {
    const settings = site({
      panels: [panel()],
      loads: [load({ stagesW: [1000], hasMeter: true, panelIndex: 0 })],
    });
    const run = welded({}, new Run(settings));
    expect(run.memory.panels[0]?.isClosed).toBe(false);
    expect(run.decision?.panelVerdicts[0]?.code).toBe("latched-welded");
  });
});

describe("power that comes back", () => {
  it("soon after a run of ours is an echo, later it is by hand", () => {
    const run = metered();
    run.during(20 * MINUTE_MS, honestly(run));
    run.during(MINUTE_MS + TICK_MS, { socFraction: 0.91 });
    expect(run.stages).toEqual([0]);
    run.tick({ socFraction: 0.91, loads: run.loads({ powerW: fresh(0) }) });
    const back = { socFraction: 0.91, loads: run.loads({ powerW: fresh(1000) }) };
    // Settled after two ticks, but within 2 × settle of our OFF.
    run.during(3 * TICK_MS, back);
    expect(run.memory.loads[0]).toMatchObject({ isByHand: false, latch: "none" });
    run.tick(back);
    expect(run.memory.loads[0]).toMatchObject({ isByHand: true, latch: "none" });
  });
});

describe("a panel contactor", () => {
  const settings = site({ panels: [panel()], loads: [load({ panelIndex: 0 })] });

  it("closes before its load starts, and lingers after it stopped", () => {
    const run = new Run(settings);
    run.during(5 * MINUTE_MS);
    expect(run.memory.panels[0]?.isClosed).toBe(true);
    expect(run.stages).toEqual([0]);
    run.tick();
    expect(run.stages).toEqual([2]);
    run.during(11 * MINUTE_MS, { socFraction: 0.91 });
    expect(run.stages).toEqual([0]);
    expect(run.memory.panels[0]?.isClosed).toBe(true);
    run.during(5 * MINUTE_MS, { socFraction: 0.91 });
    expect(run.memory.panels[0]?.isClosed).toBe(false);
  });

  it("does not close while a load on it is not seen off", () => {
    const run = new Run(settings);
    const silent = says(run, { reportedStage: lost(0, "waiting") });
    const decision = run.during(READY_MS, silent);
    expect(decision.panelVerdicts[0]?.code).toBe("panel-waits-members");
    expect(decision.verdicts[0]?.code).toBe("waiting-contactor");
  });

  it("opens in the same tick as its loads on an interlock of the site", () => {
    const run = new Run(settings);
    run.during(10 * MINUTE_MS);
    expect(run.stages).toEqual([2]);
    const decision = run.tick({ voltageV: 47.9 });
    expect(decision.loadStages).toEqual([0]);
    expect(decision.panelsClosed).toEqual([false]);
  });

  it("that does not report as told is latched with its loads off", () => {
    const run = new Run(settings);
    const decision = run.during(READY_MS, { panels: [panelObservation()] });
    expect(decision.panelVerdicts[0]?.code).toBe("latched-panel");
    expect(decision.verdicts[0]?.code).toBe("latched-panel");
    expect(run.memory.panels[0]).toMatchObject({ isClosed: false, isLatched: true });
    run.tick({ panels: [panelObservation({ request: "clear" })] });
    run.during(3 * TICK_MS);
    expect(run.stages).toEqual([2]);
  });
});
