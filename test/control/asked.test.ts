/** What a person asks of a load: run it, hold it off, release it. */
import { describe, expect, it } from "vitest";
import { ASKED_MAX_MS } from "../../service/control/asked.ts";
import { carryOver } from "../../service/control/carry-over.ts";
import { explainVerdict } from "../../service/control/explain.ts";
import type { LoadObservation } from "../../service/control/observation.ts";
import type { ControlSettings, LoadSettings } from "../../service/control/settings.ts";
import { floodedBattery, fresh, HOUR_MS, load, lost, MINUTE_MS } from "./given.ts";
import { Run, site, TICK_MS } from "./given.ts";
import type { Scene } from "./given.ts";

/** Under the rule curve, with the battery giving: no load would start by itself. */
const DULL = { socFraction: 0.8, currentA: -10, arrayW: 0, voltageV: 52 } as const;

function rested(
  over: Partial<LoadSettings> = {},
  rest: Partial<ControlSettings> = {},
  scene: Scene = DULL,
): Run {
  const run = new Run(site({ loads: [load(over)], ...rest }));
  run.during(10 * MINUTE_MS, scene);
  expect(run.stages).toEqual([0]);
  return run;
}

function ask(run: Run, over: Partial<LoadObservation>, scene: Scene = DULL) {
  return run.tick({ ...scene, loads: run.loads(over) });
}

const runFor = (requestForMs: number) => ({ request: "run", requestForMs }) as const;
const holdFor = (requestForMs: number) => ({ request: "hold", requestForMs }) as const;
const codeOf = (run: Run) => run.decision?.verdicts[0]?.code;

describe("a run on request", () => {
  it("starts at once where no surplus would start it, and says for how long", () => {
    const run = rested();
    expect(codeOf(run)).toBe("waiting-band");
    const decision = ask(run, runFor(30 * MINUTE_MS));
    expect(run.stages).toEqual([2]);
    expect(decision.events).toEqual([
      { about: "load", index: 0, change: "started", code: "running-asked" },
    ]);
    const [verdict] = decision.verdicts;
    expect(explainVerdict(verdict!, decision.site)).toBe(
      "on because it was asked for: 30 min more",
    );
    // A try would back off when it fails; this one did not fail.
    expect(run.memory.loads[0]).toMatchObject({ isTry: false, asked: { wants: "run" } });
  });

  it("lasts for its time to the tick, then the load is decided on as always", () => {
    const run = rested();
    ask(run, runFor(30 * MINUTE_MS));
    run.during(30 * MINUTE_MS - TICK_MS, DULL);
    expect(run.stages).toEqual([2]);
    run.tick(DULL);
    expect(run.stages).toEqual([0]);
    expect(codeOf(run)).toBe("stopped-band");
    expect(run.memory.loads[0]?.asked).toBeNull();
  });

  it("goes on by the load's own marks when there is enough to spare at its end", () => {
    const near = { ...DULL, socFraction: 0.935 };
    const run = rested({}, {}, near);
    ask(run, runFor(5 * MINUTE_MS), near);
    run.during(10 * MINUTE_MS, { socFraction: 0.965 });
    expect(run.stages).toEqual([2]);
    expect(codeOf(run)).toBe("running");
  });

  it("ends when it is released, and the minimum run is kept", () => {
    const run = rested();
    ask(run, runFor(HOUR_MS));
    run.during(MINUTE_MS, DULL);
    ask(run, { request: "release" });
    expect(run.memory.loads[0]?.asked).toBeNull();
    expect(codeOf(run)).toBe("running-min-run");
    run.during(10 * MINUTE_MS, DULL);
    expect(run.stages).toEqual([0]);
  });

  it("lasts twelve hours at most, and no time at all if it is asked for none", () => {
    const run = rested();
    ask(run, runFor(100 * HOUR_MS));
    expect(run.memory.loads[0]?.asked?.untilMs).toBe(run.atMs + ASKED_MAX_MS);
    const none = rested();
    ask(none, runFor(-5));
    none.tick(DULL);
    expect(none.memory.loads[0]?.asked).toBeNull();
  });

  it("takes over a load that runs already, and keeps it on through what would stop it", () => {
    const run = new Run(site());
    run.during(20 * MINUTE_MS);
    expect(run.stages).toEqual([2]);
    ask(run, runFor(HOUR_MS));
    run.during(30 * MINUTE_MS, DULL);
    expect(run.stages).toEqual([2]);
    expect(codeOf(run)).toBe("running-asked");
  });

  it("steps up when there is room again", () => {
    const run = rested();
    // Room for one stage of a kilowatt only.
    const tight: Scene = { ...DULL, inverterW: 6_500 };
    ask(run, runFor(HOUR_MS), tight);
    expect(run.stages).toEqual([1]);
    run.during(5 * MINUTE_MS, { ...DULL, inverterW: 1_300 });
    expect(run.stages).toEqual([2]);
  });
});

describe("a run on request never", () => {
  it.each<readonly [string, Partial<LoadSettings>, Partial<LoadObservation>, Scene]>([
    ["tank-hot", { tank: tank() }, { tankTemperatureC: fresh(76) }, {}],
    ["tank-unknown", { tank: tank() }, { tankTemperatureC: lost(50) }, {}],
    ["tank-warm", { tank: tank() }, { tankTemperatureC: fresh(69) }, {}],
    ["outside-window", { windows: [{ fromMinute: 0, toMinute: 60 }] }, {}, {}],
    ["quota-run-met", { quotaRunMs: 0 }, {}, {}],
    ["quota-energy-met", { quotaEnergyWh: 0 }, {}, {}],
    ["site-interlock", {}, {}, { battery: { voltageV: lost(52) } }],
    ["site-interlock", {}, {}, { voltageV: 47.9 }],
    ["site-interlock", {}, {}, { over: { isBrokerConnected: false } }],
    ["asked-floor", {}, {}, { socFraction: 0.595 }],
  ])("passes %s, and is over with it", (code, settings, seen, scene) => {
    const run = rested(settings);
    const decision = ask(run, { ...runFor(HOUR_MS), ...seen }, { ...DULL, ...scene });
    expect(run.stages).toEqual([0]);
    expect(codeOf(run)).toBe(code);
    expect(run.memory.loads[0]?.asked).toBeNull();
    expect(explainVerdict(decision.verdicts[0]!, decision.site)).toMatch(/^off: /);
    // Nor does it start by itself once that is over.
    run.during(20 * MINUTE_MS, () => ({
      ...DULL,
      loads: run.loads(settings.tank === undefined ? {} : { tankTemperatureC: fresh(50) }),
    }));
    expect(run.stages).toEqual([0]);
  });

  it.each<readonly [string, Partial<LoadSettings>, Scene]>([
    ["waiting-inverter", {}, { inverterW: 7_500 }],
    ["waiting-surge", { startPowerVA: 15_000 }, { inverterW: 6_500 }],
    ["waiting-sag", { startPowerVA: 15_600 }, { voltageV: 50 }],
    ["waiting-discharge-limit", {}, { battery: { dischargeLimitA: fresh(15) } }],
    ["waiting-high-voltage", {}, { voltageV: 58.5 }],
  ])("takes room that is not there: %s", (code, settings, scene) => {
    const run = rested(settings);
    ask(run, runFor(HOUR_MS), { ...DULL, ...scene });
    run.during(MINUTE_MS, { ...DULL, ...scene });
    expect(run.stages).toEqual([0]);
    expect(codeOf(run)).toBe(code);
    // It waits for that, and starts once there is room.
    expect(run.memory.loads[0]?.asked).toMatchObject({ wants: "run" });
    run.tick(DULL);
    expect(run.stages).toEqual([2]);
  });

  it("shortens a rest, and starts at its end", () => {
    const run = new Run(site());
    run.during(20 * MINUTE_MS);
    run.during(2 * MINUTE_MS, DULL);
    expect(run.stages).toEqual([0]);
    ask(run, runFor(HOUR_MS));
    expect(codeOf(run)).toBe("waiting-rest");
    run.during(5 * MINUTE_MS, DULL);
    expect(run.stages).toEqual([2]);
  });

  it("exceeds the starts per hour", () => {
    const run = rested({ startsPerHourMax: 1 });
    ask(run, runFor(2 * HOUR_MS));
    expect(codeOf(run)).toBe("waiting-starts");
    run.during(50 * MINUTE_MS, DULL);
    expect(run.stages).toEqual([2]);
  });

  it("takes the battery under its floor", () => {
    const run = rested();
    ask(run, runFor(HOUR_MS));
    run.during(11 * MINUTE_MS, { ...DULL, socFraction: 0.6 });
    expect(run.stages).toEqual([2]);
    const decision = run.tick({ ...DULL, socFraction: 0.599 });
    expect(run.stages).toEqual([0]);
    expect(explainVerdict(decision.verdicts[0]!, decision.site)).toBe(
      "off: battery at 59.9 %, a run on request ends at 60.0 %",
    );
    expect(run.memory.loads[0]?.asked).toBeNull();
  });

  it("outlives an interlock that stopped it", () => {
    const run = rested();
    ask(run, runFor(HOUR_MS));
    run.tick({ ...DULL, over: { isBrokerConnected: false } });
    expect(run.stages).toEqual([0]);
    run.during(20 * MINUTE_MS, DULL);
    expect(run.stages).toEqual([0]);
    expect(run.memory.loads[0]?.asked).toBeNull();
  });

  it("goes by less than the marks where only a voltage says how full the battery is", () => {
    const battery = floodedBattery();
    const blind = {
      battery: { socFraction: lost(0.8, "unmapped"), currentA: lost(0, "unmapped") },
    };
    const scene = (voltageV: number): Scene => ({ voltageV, arrayW: 0, ...blind });
    const run = rested({}, { battery }, scene(50));
    ask(run, runFor(HOUR_MS), scene(50));
    expect(codeOf(run)).toBe("waiting-voltage");
    // Over them power is no question any more: the sources give nothing.
    run.during(5 * MINUTE_MS, scene(52));
    expect(codeOf(run)).toBe("running-asked");
    run.during(15 * MINUTE_MS, scene(49));
    expect(run.stages).toEqual([0]);
  });

  it("is displaced by a load that ranks before it", () => {
    const both = [load({ id: "a", priority: 1 }), load({ id: "b", priority: 2, minRunMs: 0 })];
    const stagesAfter = (over: Partial<LoadObservation>): readonly number[] => {
      const run = new Run(site({ loads: both }));
      run.tick({ loads: [run.loads(holdFor(10 * MINUTE_MS))[0]!, run.loads(over)[1]!] });
      run.during(9 * MINUTE_MS);
      expect(run.stages).toEqual([0, 2]);
      // Room for both there is not.
      run.during(4 * MINUTE_MS, { inverterW: 7_500 });
      return run.stages;
    };
    expect(stagesAfter({})[1]).toBe(0);
    expect(stagesAfter(runFor(HOUR_MS))).toEqual([0, 2]);
  });
});

describe("a load held off on request", () => {
  it("goes off at once, within its minimum run, and stays off for the time", () => {
    const run = new Run(site());
    run.during(8 * MINUTE_MS);
    expect(run.stages).toEqual([2]);
    const decision = ask(run, holdFor(2 * HOUR_MS), {});
    expect(run.stages).toEqual([0]);
    expect(decision.events).toEqual([
      { about: "load", index: 0, change: "stopped", code: "held-off" },
    ]);
    expect(explainVerdict(decision.verdicts[0]!, decision.site)).toBe(
      "off because that was asked for: 2.0 h more",
    );
    run.during(2 * HOUR_MS - TICK_MS);
    expect(codeOf(run)).toBe("held-off");
    run.during(MINUTE_MS);
    expect(run.stages).toEqual([2]);
  });

  it("is told its trouble before the request", () => {
    const run = new Run(site());
    run.during(8 * MINUTE_MS);
    ask(run, holdFor(HOUR_MS), { over: { isBrokerConnected: false } });
    expect(codeOf(run)).toBe("site-interlock");
    // …which outlives that.
    run.during(20 * MINUTE_MS);
    expect(codeOf(run)).toBe("held-off");
  });

  it("may be released, or asked to run instead", () => {
    const run = rested();
    ask(run, holdFor(HOUR_MS));
    run.during(MINUTE_MS, DULL);
    ask(run, runFor(HOUR_MS));
    expect(run.stages).toEqual([2]);
    const other = new Run(site());
    other.during(6 * MINUTE_MS, { loads: other.loads(holdFor(HOUR_MS)) });
    expect(other.stages).toEqual([0]);
    ask(other, { request: "release" }, {});
    expect(other.stages).toEqual([2]);
  });
});

describe("new settings", () => {
  const kept = { loads: new Set(["heater"]), panels: new Set<string>() };
  const none = { loads: new Set<string>(), panels: new Set<string>() };
  const asked = (over: Partial<LoadObservation>) => {
    const run = rested();
    ask(run, over);
    return run;
  };

  it("leave both standing with the same actuator", () => {
    for (const over of [runFor(HOUR_MS), holdFor(HOUR_MS)]) {
      const run = asked(over);
      const next = carryOver(run.memory, site(), { kept, nowMs: run.atMs });
      expect(next.loads[0]?.asked).toEqual(run.memory.loads[0]?.asked);
      expect(next.loads[0]?.asked).not.toBeNull();
    }
  });

  it("end a run with another actuator, and keep a hold", () => {
    const run = asked(runFor(HOUR_MS));
    const next = carryOver(run.memory, site(), { kept: none, nowMs: run.atMs });
    expect(next.loads[0]?.asked).toBeNull();
    const held = asked(holdFor(HOUR_MS));
    const still = carryOver(held.memory, site(), { kept: none, nowMs: held.atMs });
    expect(still.loads[0]?.asked).toEqual({ wants: "hold", untilMs: held.atMs + HOUR_MS });
  });
});

function tank() {
  return { surplusC: 68, hysteresisK: 3, limitC: 75, volumeL: null };
}
