/** New settings under a running core: what stays, and what begins anew. */
import { describe, expect, it } from "vitest";
import { carryOver } from "../../service/control/carry-over.ts";
import type { ControlSettings } from "../../service/control/settings.ts";
import { load, MINUTE_MS, panel, Run, site } from "./given.ts";

const ALL = { loads: new Set(["a", "b"]), panels: new Set(["surplus"]) };
const FOLLOWING = { minW: 200, maxW: 3000, stepW: 10, riseWPerS: 30 };

function running(over: Partial<ControlSettings> = {}): Run {
  const run = new Run(
    site({ loads: [load({ id: "a" }), load({ id: "b", priority: 2, stagesW: [500] })], ...over }),
  );
  run.during(10 * MINUTE_MS);
  return run;
}

function under(run: Run, settings: ControlSettings, kept = ALL): Run {
  const next = new Run(settings);
  next.atMs = run.atMs;
  next.memory = carryOver(run.memory, settings, { kept, nowMs: run.atMs });
  return next;
}

describe("new settings", () => {
  it("that say the same change nothing", () => {
    const run = running();
    const same = under(run, site({ loads: run.settings.loads }));
    // But for the outlook, which is looked at anew.
    const outlook = { ...run.memory.outlook, clearDays: null, plan: null };
    expect(same.memory).toEqual({ ...run.memory, outlook });
    run.tick();
    expect(same.tick()).toEqual(run.decision);
  });

  it("leave running loads on, whatever their marks, order and neighbours", () => {
    const run = running();
    expect(run.stages).toEqual([2, 1]);
    const [a, b] = run.settings.loads;
    const c = load({ id: "c", priority: 3 });
    const next = under(run, site({ loads: [c, { ...b!, stopForMs: 1 }, { ...a!, minRunMs: 1 }] }));
    expect(next.stages).toEqual([0, 1, 2]);
    next.tick();
    expect(next.stages).toEqual([0, 1, 2]);
    expect(next.memory.loads[2]?.startedAtMs).toBe(run.memory.loads[0]?.startedAtMs);
  });

  it("take a load off that has lost its stage, or whose actuator is another", () => {
    const run = running();
    const [a, b] = run.settings.loads;
    const fewer = under(run, site({ loads: [{ ...a!, stagesW: [1000] }, b!] }));
    expect(fewer.stages).toEqual([0, 1]);
    const rewired = under(run, site({ loads: [a!, b!] }), { ...ALL, loads: new Set(["b"]) });
    expect(rewired.stages).toEqual([0, 1]);
    // It rests like one about which nothing is known, but has used up what it used today.
    expect(rewired.memory.loads[0]?.stoppedAtMs).toBe(run.atMs);
    expect(rewired.memory.loads[0]?.usedTodayWh).toBe(run.memory.loads[0]?.usedTodayWh);
  });

  it("keep a latch, also of a load or panel whose actuator is another", () => {
    const run = running({ panels: [panel()] });
    const loads = run.memory.loads.map((one) => ({ ...one, latch: "latched-dead" as const }));
    const panels = run.memory.panels.map((one) => ({ ...one, isLatched: true, isClosed: true }));
    run.memory = { ...run.memory, loads, panels };
    const none = { loads: new Set<string>(), panels: new Set<string>() };
    const next = under(run, run.settings, none);
    expect(next.memory.loads[0]?.latch).toBe("latched-dead");
    expect(next.memory.panels[0]).toMatchObject({ isLatched: true, isClosed: false });
    const kept = under(run, run.settings);
    expect(kept.memory.panels[0]).toMatchObject({ isLatched: true, isClosed: true });
    const added = under(run, site({ panels: [panel({ id: "new" })], loads: run.settings.loads }));
    expect(added.memory.panels[0]).toMatchObject({ isLatched: false, isClosed: false });
  });

  it("allot a running load its new rating, and hold a set-point within its new limits", () => {
    const run = running();
    const [, b] = run.settings.loads;
    const follower = load({ id: "a", stagesW: [200], modulating: FOLLOWING });
    const rated = under(run, site({ loads: [follower, { ...b!, stagesW: [600] }] }));
    expect(rated.memory.loads[1]?.powerW).toBe(600);
    const modulating = running({ loads: [follower] });
    expect(modulating.memory.loads[0]?.powerW).toBeGreaterThan(1000);
    const limits = { ...FOLLOWING, maxW: 700 };
    const held = under(modulating, site({ loads: [{ ...follower, modulating: limits }] }));
    expect(held.memory.loads[0]?.powerW).toBe(700);
    const off = under(new Run(site({ loads: [follower] })), site({ loads: [follower] }));
    expect(off.memory.loads[0]?.powerW).toBe(0);
  });

  it("forget what was learned of stages that are not the same any more", () => {
    const run = running();
    const [a, b] = run.settings.loads;
    const next = under(run, site({ loads: [{ ...a!, stagesW: [1000, 2000, 3000] }, b!] }));
    expect(next.memory.loads[0]?.draw.learnedW).toEqual([null, null, null]);
    expect(next.stages).toEqual([2, 1]);
  });
});
