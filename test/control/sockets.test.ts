import { describe, expect, it } from "vitest";
import type { LoadObservation, Reading } from "../../service/control/observation.ts";
import type { LoadSettings, SocketsSettings } from "../../service/control/settings.ts";
import { fresh, HOUR_MS, load, lost, MINUTE_MS, panel, Run, site, TICK_MS } from "./given.ts";
import type { Scene } from "./given.ts";

const READY_MS = 5 * MINUTE_MS;
const MINIMUM_RUN_MS = 10 * MINUTE_MS;
const LOW: Scene = { socFraction: 0.91 };
const SOCKETS: SocketsSettings = {
  maximumW: 2000,
  warnMs: MINUTE_MS,
  finishGraceMs: 2 * MINUTE_MS,
  hasRequest: false,
  requestMs: HOUR_MS,
};

function sockets(
  over: Partial<SocketsSettings> = {},
  loadOver: Partial<LoadSettings> = {},
): LoadSettings {
  const stagesW = [800];
  return load({
    id: "workshop",
    stagesW,
    hasMeter: true,
    sockets: { ...SOCKETS, ...over },
    ...loadOver,
  });
}

/** Workshop sockets on which something draws `usedW` while they are live. */
class Workshop extends Run {
  usedW = 0;

  constructor(over: Partial<SocketsSettings> = {}, loadOver: Partial<LoadSettings> = {}) {
    super(site({ loads: [sockets(over, loadOver)] }));
  }

  pass(durationMs: number, scene: Scene = {}, seen: Partial<LoadObservation> = {}) {
    return this.during(durationMs, () => ({
      loads: this.loads({ powerW: fresh(this.isLive ? this.usedW : 0), ...seen }),
      ...scene,
    }));
  }

  get isLive(): boolean {
    return this.stages[0] === 1;
  }

  get code() {
    return this.decision?.verdicts[0]?.code;
  }

  get isWarning() {
    return this.decision?.loadWarnings[0];
  }
}

function live(over: Partial<SocketsSettings> = {}): Workshop {
  const run = new Workshop(over);
  run.pass(READY_MS + MINIMUM_RUN_MS);
  expect(run.isLive).toBe(true);
  return run;
}

describe("sockets that are to go off", () => {
  it("warn people first, from the end of the dwell for the time that is set", () => {
    const run = live();
    run.pass(MINUTE_MS, LOW);
    expect(run.isWarning).toBe(false);
    run.pass(TICK_MS, LOW);
    expect(run.isWarning).toBe(true);
    expect(run.decision?.verdicts[0]).toMatchObject({
      code: "sockets-going-off",
      remainingMs: MINUTE_MS,
    });
    run.pass(MINUTE_MS - TICK_MS, LOW);
    expect(run.isLive).toBe(true);
    run.pass(TICK_MS, LOW);
    expect(run.isLive).toBe(false);
    expect(run.code).toBe("stopped-band");
    expect(run.isWarning).toBe(false);
  });

  it("stay on, and stop warning, if the reason goes away", () => {
    const run = live();
    run.pass(MINUTE_MS + 40_000, LOW);
    expect(run.isWarning).toBe(true);
    run.pass(TICK_MS);
    expect(run.isWarning).toBe(false);
    expect(run.code).toBe("running");
    run.pass(MINUTE_MS + TICK_MS, LOW);
    expect(run.decision?.verdicts[0]?.remainingMs).toBe(MINUTE_MS);
  });

  it("wait longer while something is in use on them, but not for ever", () => {
    const run = live();
    run.usedW = 21;
    run.pass(2 * MINUTE_MS + TICK_MS, LOW);
    expect(run.decision?.verdicts[0]).toMatchObject({
      code: "sockets-finishing",
      measured: 21,
      remainingMs: 2 * MINUTE_MS,
    });
    expect(run.isWarning).toBe(true);
    run.pass(2 * MINUTE_MS - TICK_MS, LOW);
    expect(run.isLive).toBe(true);
    run.pass(TICK_MS, LOW);
    expect(run.isLive).toBe(false);
  });

  it("go off as soon as the use on them ends", () => {
    const run = live();
    run.usedW = 21;
    run.pass(3 * MINUTE_MS, LOW);
    expect(run.isLive).toBe(true);
    run.usedW = 20;
    run.pass(TICK_MS, LOW);
    expect(run.isLive).toBe(false);
  });

  it("go off at the end of the warning where there is no meter to show their use", () => {
    const run = new Workshop({}, { hasMeter: false });
    const blind = { powerW: { value: 0, quality: "unmapped", ageMs: 0 } } as const;
    run.pass(READY_MS + MINIMUM_RUN_MS, {}, blind);
    expect(run.isLive).toBe(true);
    run.pass(2 * MINUTE_MS + TICK_MS, LOW, blind);
    expect(run.isLive).toBe(false);
  });

  it("go off without a warning where none is set", () => {
    const run = live({ warnMs: 0, finishGraceMs: 0 });
    run.usedW = 500;
    run.pass(MINUTE_MS + TICK_MS, LOW);
    expect(run.isLive).toBe(false);
  });

  it("keep their minimum run before they warn", () => {
    const run = new Workshop();
    run.pass(READY_MS + MINUTE_MS);
    run.pass(5 * MINUTE_MS, LOW);
    expect(run.code).toBe("running-min-run");
    expect(run.isWarning).toBe(false);
  });

  it("keep warning while they wait for their turn to go", () => {
    const quick = { minRunMs: 0, stopForMs: 0 };
    const run = new Run(
      site({
        staggerMs: 2 * MINUTE_MS,
        loads: [
          sockets({ warnMs: 20_000, finishGraceMs: 0 }, { ...quick, hasMeter: false }),
          load({ id: "pump", stagesW: [500], priority: 2, ...quick }),
        ],
      }),
    );
    run.during(20 * MINUTE_MS);
    expect(run.stages).toEqual([1, 1]);
    run.during(MINUTE_MS, LOW);
    expect(run.stages).toEqual([1, 0]);
    expect(run.decision?.verdicts[0]).toMatchObject({ code: "sockets-going-off", remainingMs: 0 });
    expect(run.decision?.loadWarnings).toEqual([true, false]);
    run.during(2 * MINUTE_MS, LOW);
    expect(run.stages).toEqual([0, 0]);
  });

  it("go off at once, without a warning, for an interlock", () => {
    const run = live();
    run.usedW = 500;
    run.pass(TICK_MS, { voltageV: 47 });
    expect(run.isLive).toBe(false);
    expect(run.isWarning).toBe(false);
  });
});

describe("sockets that are overloaded", () => {
  it("open at once and rest", () => {
    const run = live();
    run.usedW = 2000;
    run.pass(TICK_MS);
    expect(run.isLive).toBe(true);
    run.usedW = 2001;
    const decision = run.pass(TICK_MS);
    expect(decision.loadStages).toEqual([0]);
    expect(decision.verdicts[0]).toMatchObject({ code: "sockets-overload", measured: 2001 });
    run.usedW = 500;
    run.pass(READY_MS - TICK_MS);
    expect(run.code).toBe("waiting-rest");
    run.pass(TICK_MS);
    expect(run.isLive).toBe(true);
  });

  it("are latched by the third time in a day, until a person clears them", () => {
    const run = live();
    run.usedW = 2001;
    run.pass(3 * HOUR_MS);
    expect(run.code).toBe("latched-sockets");
    expect(run.memory.loads[0]?.startsToday).toBe(3);
    run.usedW = 500;
    run.pass(TICK_MS, {}, { request: "clear" });
    run.pass(TICK_MS);
    expect(run.isLive).toBe(true);
    expect(run.memory.loads[0]?.guard.overloadsToday).toBe(0);
  });

  it("begin to count anew each day", () => {
    const run = live();
    run.usedW = 2001;
    run.pass(6 * MINUTE_MS);
    expect(run.memory.loads[0]?.guard.overloadsToday).toBe(2);
    run.usedW = 0;
    run.pass(13 * HOUR_MS);
    expect(run.memory.loads[0]?.guard.overloadsToday).toBe(0);
  });

  it("stay off while their meter is silent", () => {
    const run = live();
    run.pass(TICK_MS, {}, { powerW: lost(100) });
    expect(run.isLive).toBe(false);
    expect(run.code).toBe("sockets-unknown");
    run.pass(HOUR_MS, {}, { powerW: lost(100) });
    expect(run.isLive).toBe(false);
  });
});

describe("sockets with a button", () => {
  const button = { hasRequest: true, requestMs: 30 * MINUTE_MS };

  /** Pressed this long ago. */
  const pressed = (ageMs = 0): Partial<LoadObservation> => ({ isPressed: fresh(true, ageMs) });

  it("are live after a press, for the time that is set, and then warn", () => {
    const run = new Workshop(button);
    run.pass(READY_MS + MINUTE_MS);
    expect(run.code).toBe("waiting-request");
    run.pass(TICK_MS, {}, pressed());
    expect(run.isLive).toBe(true);
    run.pass(30 * MINUTE_MS - TICK_MS);
    expect(run.code).toBe("running");
    run.pass(TICK_MS);
    expect(run.code).toBe("sockets-going-off");
    run.pass(MINUTE_MS);
    expect(run.isLive).toBe(false);
    expect(run.code).toBe("waiting-request");
  });

  it("count a press from its own instant", () => {
    const run = new Workshop(button);
    run.pass(HOUR_MS);
    run.pass(TICK_MS, {}, pressed(29 * MINUTE_MS));
    expect(run.isLive).toBe(true);
    const late = new Workshop(button);
    late.pass(HOUR_MS);
    late.pass(TICK_MS, {}, pressed(30 * MINUTE_MS));
    expect(late.isLive).toBe(false);
  });

  it.each<[string, Reading<boolean>]>([
    ["that the broker had kept", lost(true, "retained")],
    ["that is stale", lost(true)],
    ["from before the start", fresh(true, READY_MS + 10 * MINUTE_MS)],
    ["that is a release", fresh(false)],
  ])("a press %s does not count", (_name, isPressed) => {
    const run = new Workshop(button);
    run.pass(READY_MS + TICK_MS, {}, {});
    run.pass(TICK_MS, {}, { isPressed });
    expect(run.isLive).toBe(false);
  });

  it("a press lasts through a stop by the schedule", () => {
    const run = new Workshop({ ...button, warnMs: 0, finishGraceMs: 0 });
    run.pass(READY_MS);
    run.pass(TICK_MS, {}, pressed());
    run.pass(12 * MINUTE_MS, LOW);
    expect(run.isLive).toBe(false);
    run.pass(10 * MINUTE_MS);
    expect(run.isLive).toBe(true);
  });

  it("after an interlock only a new press counts: nothing left switched on starts by itself", () => {
    const run = new Workshop(button);
    run.pass(READY_MS);
    run.pass(MINUTE_MS, {}, pressed());
    const pressedAtMs = run.atMs;
    run.tick({ voltageV: 47, loads: run.loads({ powerW: fresh(0), ...pressed(TICK_MS) }) });
    expect(run.isLive).toBe(false);
    run.during(10 * MINUTE_MS, () => ({
      loads: run.loads({ powerW: fresh(0), ...pressed(run.atMs + TICK_MS - pressedAtMs) }),
    }));
    expect(run.isLive).toBe(false);
    expect(run.code).toBe("waiting-request");
    run.pass(TICK_MS, {}, pressed());
    expect(run.isLive).toBe(true);
  });
});

describe("room for sockets", () => {
  const inverterW = 6500;

  it("is kept on the inverter for the most that they may draw", () => {
    const run = new Workshop();
    run.pass(READY_MS + MINUTE_MS, { inverterW });
    expect(run.decision?.verdicts[0]).toMatchObject({
      code: "waiting-inverter",
      measured: 1500,
      limit: 2000,
    });
  });

  it("stays kept while they run on less", () => {
    const run = new Run(
      site({ loads: [sockets(), load({ id: "heater", stagesW: [1500], priority: 2 })] }),
    );
    const scene = (w: number) => () => ({
      currentA: 150,
      inverterW: w,
      loads: run
        .loads({ powerW: fresh(run.stages[0] === 1 ? 500 : 0) })
        .map((seen, index) => (index === 0 ? seen : { ...seen, powerW: lost(0, "unmapped") })),
    });
    run.during(READY_MS, scene(300));
    expect(run.stages).toEqual([1, 0]);
    // 8000 − 5001 − (2000 − 500) leaves 1499 W.
    run.during(5 * MINUTE_MS, scene(5001));
    expect(run.decision?.verdicts[1]).toMatchObject({ code: "waiting-inverter", measured: 1499 });
    run.during(MINUTE_MS, scene(5000));
    expect(run.stages).toEqual([1, 1]);
  });

  it("is kept on the feeder, whatever they were seen to draw", () => {
    const run = new Run(
      site({
        panels: [panel({ feederMaxW: 1999 })],
        loads: [sockets({}, { panelIndex: 0 })],
      }),
    );
    run.during(READY_MS + MINUTE_MS, () => ({ loads: run.loads({ powerW: fresh(0) }) }));
    expect(run.decision?.verdicts[0]).toMatchObject({ code: "waiting-feeder", limit: 2000 });
  });

  it("is needed as power too where no meter shows what they draw", () => {
    const scene = { currentA: 20, socFraction: 0.9601 };
    const blind = new Workshop({}, { hasMeter: false, minRunMs: HOUR_MS });
    blind.during(READY_MS + MINUTE_MS, scene);
    expect(blind.decision?.verdicts[0]?.code).toBe("waiting-power");
    const metered = new Workshop({}, { minRunMs: HOUR_MS });
    metered.pass(READY_MS + MINUTE_MS, scene);
    expect(metered.isLive).toBe(true);
  });

  it("is not made by stopping them for a load ranked before: there is no time to warn", () => {
    const loads = [
      load({ id: "first", stagesW: [7000], minRestMs: HOUR_MS }),
      sockets({}, { priority: 2, hasMeter: false }),
    ];
    const run = new Run(site({ loads }));
    run.during(READY_MS + MINUTE_MS, { currentA: 250 });
    run.during(2 * HOUR_MS, { currentA: 250, inverterW: 2300 });
    expect(run.stages).toEqual([0, 1]);
    expect(run.decision?.verdicts[0]?.code).toBe("waiting-inverter");
  });
});
