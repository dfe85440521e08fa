/** What a load's memory gains at a tick and at a switching, limit by limit. */
import { describe, expect, it } from "vitest";
import { commanded } from "../../service/control/load-timers.ts";
import type { LoadOutcome } from "../../service/control/load-timers.ts";
import type { LoadMemory } from "../../service/control/memory.ts";
import { fresh, load, MINUTE_MS, Run, site, TICK_MS } from "./given.ts";

const NOW_MS = 5_000_000;
/** The local day of the scenes. */
const TODAY = 20_625;

function runWith(over: Partial<LoadMemory>, settings = site()): Run {
  const run = new Run(settings);
  run.memory = { ...run.memory, loads: run.memory.loads.map((one) => ({ ...one, ...over })) };
  return run;
}

function loadOf(run: Run): LoadMemory {
  const [first] = run.memory.loads;
  if (first === undefined) throw new Error("the site has a load");
  return first;
}

function after(over: Partial<LoadMemory>, outcome: Partial<LoadOutcome>): LoadMemory {
  const before = loadOf(runWith(over));
  const { stage, powerW, verdict } = before;
  return commanded(before, { stage, powerW, note: "none", verdict, ...outcome }, NOW_MS);
}

describe("a failed try", () => {
  it.each([
    [0, 10],
    [1, 20],
    [5, 320],
    [6, 640],
    [7, 640],
    [40, 640],
  ])("after %i others of the day lets the next one wait for %i minutes", (failedTries, minutes) => {
    const running = { stage: 1, startedAtMs: 0, failedTries, isTry: true };
    const next = after(running, { stage: 0, powerW: 0, note: "failed-try" });
    expect(next.tryAfterMs).toBe(NOW_MS + minutes * MINUTE_MS);
    expect(next).toMatchObject({ failedTries: failedTries + 1, isTry: false });
  });

  it.each([
    [10 * MINUTE_MS - TICK_MS, { isTry: true, failedTries: 3 }],
    [10 * MINUTE_MS, { isTry: false, failedTries: 0 }],
  ])("is forgotten once one has held for a minimum run (%i ms)", (triedMs, expected) => {
    const run = runWith({ stage: 1, isTry: true, failedTries: 3, day: TODAY });
    const startedMs = TICK_MS - triedMs;
    run.memory = {
      ...run.memory,
      loads: [{ ...loadOf(run), startedAtMs: startedMs, changedAtMs: startedMs }],
    };
    run.tick();
    expect(loadOf(run)).toMatchObject(expected);
  });
});

describe("what a day has had", () => {
  it.each([
    ["begins anew on the next day", TODAY - 1, TODAY, 0],
    ["stays on the same day", TODAY, TODAY, 2],
    ["stays when the clock steps back over midnight", TODAY + 1, TODAY + 1, 2],
    ["begins anew after a clock that was days ahead", TODAY + 2, TODAY, 0],
  ])("%s", (_name, day, nextDay, startsToday) => {
    const run = runWith({ day, startsToday: 2 });
    run.tick();
    expect(loadOf(run)).toMatchObject({ day: nextDay, startsToday });
  });
});

it("time above the start mark counts anew after ticks that are missing", () => {
  const run = new Run(site({ loads: [load({ startForMs: 60 * MINUTE_MS })] }));
  run.during(5 * MINUTE_MS);
  expect(loadOf(run).aboveSinceMs).toBe(TICK_MS);
  run.atMs += 10 * MINUTE_MS;
  run.tick();
  expect(loadOf(run).aboveSinceMs).toBe(run.atMs);
});

it("a load that is on by hand has rested only since that was over", () => {
  const run = new Run(site({ loads: [load({ hasByHandInput: true })] }));
  const byHand = { loads: run.loads({ isByHand: fresh(true), reportedStage: fresh(1) }) };
  run.during(MINUTE_MS, byHand);
  expect(loadOf(run)).toMatchObject({ isByHand: true, stoppedAtMs: run.atMs });
  const endedMs = run.atMs;
  run.during(MINUTE_MS);
  expect(loadOf(run)).toMatchObject({ isByHand: false, stoppedAtMs: endedMs });
});

describe("at a switching", () => {
  const running = { stage: 1, startedAtMs: 0, isConfirmed: true, starvedSinceMs: NOW_MS - 1000 };

  it("what was confirmed of the stage before, and what it lacked, counts no longer", () => {
    const next = after(running, { stage: 2, powerW: 2000 });
    expect(next).toMatchObject({ isConfirmed: false, starvedSinceMs: null, changedAtMs: NOW_MS });
  });

  it("of power alone both stay", () => {
    const next = after(running, { powerW: 700 });
    expect(next).toMatchObject({ isConfirmed: true, starvedSinceMs: NOW_MS - 1000 });
    expect(next.setAtMs).toBe(NOW_MS);
  });

  it("of power that backs off, it rises again a minute later and not before", () => {
    const before = { ...running, riseAfterMs: 7 };
    expect(after(before, { powerW: 700, note: "backed-off" }).riseAfterMs).toBe(NOW_MS + 60_000);
    expect(after(before, { powerW: 700 }).riseAfterMs).toBe(7);
  });
});
