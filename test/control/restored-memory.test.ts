/** After a restart: what the run before saved, as far as it can be trusted. */
import fc from "fast-check";
import { THERMOSTAT_UNSEEN } from "../../service/control/draw-memory.ts";
import { describe, expect, it } from "vitest";
import { initialMemory, LOAD_LATCHES } from "../../service/control/memory.ts";
import type { LoadMemory, Memory } from "../../service/control/memory.ts";
import { restoreMemory } from "../../service/control/restored-memory.ts";
import type { RestoreTimes } from "../../service/control/restored-memory.ts";
import { step } from "../../service/control/step.ts";
import { HOUR_MS, load, MIDNIGHT_MS, MINUTE_MS, observe, panel, Run, site } from "./given.ts";

const settings = site({
  loads: [load({ id: "a", startsPerHourMax: 2 }), load({ id: "b", priority: 2 })],
  panels: [panel()],
});
const NOW_MS = 5_000;
const SAVED_WALL_MS = MIDNIGHT_MS + 14 * HOUR_MS;

function after(gapMs: number, over: Partial<RestoreTimes> = {}): RestoreTimes {
  return {
    nowMs: NOW_MS,
    wallMs: SAVED_WALL_MS + gapMs,
    savedWallMs: SAVED_WALL_MS,
    isWallClockPlausible: true,
    ...over,
  };
}

/** Memory of a run that has switched its loads on, after a trip through JSON. */
function saved(change: (memory: Memory) => unknown = (memory) => memory): unknown {
  // Without a limit per hour, since at first it counts as used up.
  const loads = settings.loads.map((one) => ({ ...one, startsPerHourMax: null }));
  const run = new Run({ ...settings, loads });
  run.during(10 * MINUTE_MS);
  expect(run.stages).toEqual([2, 2]);
  return JSON.parse(JSON.stringify(change(run.memory)));
}

const LAST_MS = 10 * MINUTE_MS;

function savedLoad(over: object): unknown {
  return saved((memory) => ({ ...memory, loads: [{ ...memory.loads[0], ...over }] }));
}

function restoredLoad(over: object, times = after(MINUTE_MS)): LoadMemory {
  return restoreMemory(savedLoad(over), settings, times).loads[0]!;
}

const blank = initialMemory(settings, NOW_MS).loads[0]!;

describe("what was asked for", () => {
  const until = { untilMs: LAST_MS + 2 * HOUR_MS };
  const wants = (what: string) => ({ asked: { wants: what, ...until } });

  it("held off goes on across the gap; what was to run does not", () => {
    const hold = restoredLoad(wants("hold"), after(HOUR_MS));
    expect(hold.asked).toEqual({ wants: "hold", untilMs: NOW_MS + HOUR_MS });
    expect(restoredLoad(wants("run"), after(HOUR_MS)).asked).toBeNull();
  });

  it("no clock shortens a hold, and none is believed that cannot be read", () => {
    const clockless = restoredLoad(wants("hold"), after(HOUR_MS, { isWallClockPlausible: false }));
    expect(clockless.asked).toEqual({ wants: "hold", untilMs: NOW_MS + 2 * HOUR_MS });
    expect(restoredLoad({ asked: { wants: "hold", untilMs: "soon" } }).asked).toBeNull();
    expect(restoredLoad({ asked: null }).asked).toBeNull();
  });
});

describe("with a sound clock", () => {
  it("no load is on, and what ran has only just stopped", () => {
    const memory = restoreMemory(saved(), settings, after(MINUTE_MS));
    expect(
      memory.loads.map(({ stage, powerW, startedAtMs }) => [stage, powerW, startedAtMs]),
    ).toEqual([0, 0].map(() => [0, 0, null]));
    expect(memory.loads.map(({ stoppedAtMs }) => stoppedAtMs)).toEqual([NOW_MS, NOW_MS]);
    expect(memory.panels.map(({ isClosed }) => isClosed)).toEqual([false]);
    expect(memory.lastTickMs).toBeNull();
  });

  it("rests, waits and starts go on across the gap", () => {
    const off = { stage: 0, stoppedAtMs: LAST_MS - 30_000 };
    const waits = { retryAtMs: LAST_MS + 90_000, tryAfterMs: LAST_MS + 80_000, failedTries: 2 };
    const starts = { startsAtMs: [LAST_MS - 50_000, LAST_MS - 30_000] };
    const one = restoredLoad({ ...off, ...waits, ...starts, failedConfirmations: 1 });
    expect(one).toMatchObject({
      stoppedAtMs: NOW_MS - 90_000,
      retryAtMs: NOW_MS + 30_000,
      tryAfterMs: NOW_MS + 20_000,
      failedTries: 2,
      failedConfirmations: 1,
      startsAtMs: [NOW_MS - 110_000, NOW_MS - 90_000],
    });
  });

  it("an instant that would be to come counts as now, and no wait is longer than a day", () => {
    const ahead = { stoppedAtMs: LAST_MS + HOUR_MS, retryAtMs: LAST_MS + 1e12 };
    expect(restoredLoad({ stage: 0, ...ahead })).toMatchObject({
      stoppedAtMs: NOW_MS,
      retryAtMs: NOW_MS + 24 * HOUR_MS,
    });
  });

  it("what was used today is used, and the core begins the next day itself", () => {
    const used = { ranTodayMs: HOUR_MS, usedTodayWh: 1234.5, startsToday: 3 };
    const memory = restoreMemory(savedLoad(used), settings, after(MINUTE_MS));
    expect(memory.loads[0]).toMatchObject({ day: 20_625, ...used });
    const today = step(memory, observe(settings, NOW_MS), settings).memory;
    expect(today.loads[0]).toMatchObject(used);
    const tomorrow = observe(settings, NOW_MS + 24 * HOUR_MS);
    expect(step(memory, tomorrow, settings).memory.loads[0]).toMatchObject({
      day: 20_626,
      ranTodayMs: 0,
      startsToday: 0,
    });
  });

  it("what was learned about a load is kept where it has as many stages", () => {
    const kept = { learnedW: [930, null], stepsW: [[920, 940], []], idleTimes: 1 };
    const thermostat = { drawing: "rests", restsSinceMs: 5, levelW: 6, otherAtMs: 7 };
    const draw = { ...kept, ofStage: 1, idleSinceMs: 3, powerBeforeW: 4, thermostat };
    const guard = { unwarmedTimes: 1, dryTimes: 2, wantsFilling: false, overloadsToday: 3 };
    const one = restoredLoad({ draw, guard, wantsHeat: false });
    const begun = { ofStage: 0, idleSinceMs: null, powerBeforeW: null };
    // No load is on after a restart, so nothing of its thermostat is known.
    expect(one.draw).toEqual({ ...kept, ...begun, thermostat: THERMOSTAT_UNSEEN });
    expect(one.guard).toEqual({ ...blank.guard, ...guard });
    expect(one.wantsHeat).toBe(false);
    expect(restoredLoad({ draw: { learnedW: [930] } }).draw.learnedW).toEqual([null, null]);
    expect(restoredLoad({ draw: { learnedW: [-5, 1900] } }).draw.learnedW).toEqual([null, 1900]);
    // Of a version without steps, and of one that wrote nonsense.
    for (const stepsW of [undefined, "none", [5], [[-1], ["900"]]]) {
      const { draw: again } = restoredLoad({ draw: { learnedW: [930, 1900], stepsW } });
      expect(again).toMatchObject({ learnedW: [930, 1900], stepsW: [[], []] });
    }
  });

  it("a load that may still be on from our run is told from one that is on by hand", () => {
    expect(restoredLoad({}).wasOurs).toBe(true);
    expect(restoredLoad({}, after(11 * MINUTE_MS)).wasOurs).toBe(false);
    const off = { stage: 0, wasOurs: true };
    expect(restoredLoad({ ...off, isConfirmed: false }).wasOurs).toBe(true);
    expect(restoredLoad({ ...off, isConfirmed: true }).wasOurs).toBe(false);
    expect(restoredLoad({ stage: 0, wasOurs: false }).wasOurs).toBe(false);
  });

  it("the count goes on over a short gap, and ends over a long one", () => {
    const full = saved((memory) => ({
      ...memory,
      battery: { ...memory.battery, fullOnDay: 20_620, isNotFollowing: true, unseenMs: 1_000 },
    }));
    const short = restoreMemory(full, settings, after(MINUTE_MS)).battery;
    expect(short).toMatchObject({ unseenMs: 61_000, checkedAtMs: NOW_MS - MINUTE_MS });
    expect(short.countFraction).toBeGreaterThan(0.9);
    for (const times of [
      after(30 * MINUTE_MS),
      after(MINUTE_MS, { isWallClockPlausible: false }),
    ]) {
      const { battery } = restoreMemory(full, settings, times);
      expect(battery).toMatchObject({ countFraction: null, checkedAtMs: null, unseenMs: 0 });
      expect(battery).toMatchObject({ fullOnDay: 20_620, isNotFollowing: true });
    }
  });

  it("what the battery loses stays learned, the charge under way does not", () => {
    const wet = saved((memory) => ({
      ...memory,
      battery: { ...memory.battery, lossFactor: 0.8, lostFraction: 0.2 },
    }));
    for (const times of [after(0), after(0, { isWallClockPlausible: false })]) {
      const { battery } = restoreMemory(wet, settings, times);
      expect(battery).toMatchObject({ lossFactor: 0.8, lostFraction: null });
    }
    const older = saved(({ battery: { lossFactor, ...battery }, ...memory }) => {
      expect(lossFactor).toBe(1);
      return { ...memory, battery };
    });
    expect(restoreMemory(older, settings, after(0)).battery.lossFactor).toBe(1);
  });

  it.each([-0.1, 1.1, null, "0.9"])("a count of %s is none", (countFraction) => {
    const odd = saved((memory) => ({ ...memory, battery: { ...memory.battery, countFraction } }));
    expect(restoreMemory(odd, settings, after(0)).battery.countFraction).toBeNull();
  });

  it("a generator that ran keeps loads waiting", () => {
    const ran = saved((memory) => ({ ...memory, generatorAtMs: LAST_MS - 1_000 }));
    expect(restoreMemory(ran, settings, after(2_000)).generatorAtMs).toBe(NOW_MS - 3_000);
    expect(restoreMemory(saved(), settings, after(0)).generatorAtMs).toBeNull();
  });

  it("loads are known by their id, whatever their place", () => {
    const latched = saved(({ loads, ...memory }) => ({
      ...memory,
      loads: [
        { ...loads[1], latch: "latched-welded" },
        { ...loads[0], id: "gone" },
      ],
    }));
    const { loads } = restoreMemory(latched, settings, after(0));
    expect(loads.map(({ id, latch }) => [id, latch])).toEqual([
      ["a", "none"],
      ["b", "latched-welded"],
    ]);
  });
});

describe("without a clock that can be right", () => {
  const unknown = [
    after(HOUR_MS, { isWallClockPlausible: false }),
    // It went back meanwhile.
    after(-1),
  ];

  it.each(unknown)("every rest begins anew and the hour's starts are used up %#", (times) => {
    const off = { stage: 0, stoppedAtMs: 0, startsAtMs: [], retryAtMs: LAST_MS + 7_000 };
    expect(restoredLoad({ ...off, usedTodayWh: 77 }, times)).toMatchObject({
      stoppedAtMs: NOW_MS,
      startsAtMs: [NOW_MS, NOW_MS],
      retryAtMs: NOW_MS + 7_000,
      usedTodayWh: 77,
      wasOurs: false,
    });
  });
});

describe("of another version, or of no use", () => {
  it.each([{ version: 2 }, { version: null }, { lastTickMs: null }, { lastTickMs: 1e300 }])(
    "%o keeps latches and nothing else",
    (over) => {
      const odd = saved((memory) => ({
        ...memory,
        ...over,
        loads: [{ ...memory.loads[0], latch: "latched-open" }, memory.loads[1]],
        panels: [{ ...memory.panels[0], isLatched: true }],
      }));
      const fresh = initialMemory(settings, NOW_MS);
      expect(restoreMemory(odd, settings, after(MINUTE_MS))).toEqual({
        ...fresh,
        loads: [{ ...fresh.loads[0], latch: "latched-open" }, fresh.loads[1]],
        panels: [{ ...fresh.panels[0], isLatched: true }],
      });
    },
  );

  it("a latch of an unknown kind is one all the same", () => {
    expect(restoredLoad({ latch: "latched-by-frost" }).latch).toBe("latched-dead");
    expect(restoredLoad({ latch: "open" }).latch).toBe("none");
    expect(restoredLoad({ latch: 7 }).latch).toBe("none");
  });

  it("what cannot be read of a load is as if nothing were known", () => {
    const odd = { stage: 0, stoppedAtMs: "x", startsAtMs: [1, null], day: [], tryAfterMs: {} };
    expect(restoredLoad({ ...odd, wantsHeat: 1 })).toMatchObject({
      stoppedAtMs: blank.stoppedAtMs,
      startsAtMs: blank.startsAtMs,
      day: blank.day,
      tryAfterMs: blank.tryAfterMs,
      wantsHeat: blank.wantsHeat,
    });
    expect(restoredLoad({ startsAtMs: 3 }).startsAtMs).toEqual(blank.startsAtMs);
  });
});

describe("whatever stands in the file", () => {
  const number = fc.oneof(fc.double(), fc.constantFrom(0, 1, LAST_MS, 1e300, null));
  const latch = fc.constantFrom(...LOAD_LATCHES);
  const one = fc.record({
    id: fc.constantFrom("a", "b"),
    latch,
    stage: fc.oneof(fc.nat(3), fc.string()),
    stoppedAtMs: number,
    startsAtMs: fc.oneof(fc.array(number), fc.jsonValue()),
    retryAtMs: number,
    usedTodayWh: number,
    draw: fc.jsonValue(),
    guard: fc.jsonValue(),
  });
  const close = fc.record({
    version: fc.constantFrom(1, 2, "1"),
    lastTickMs: number,
    battery: fc.oneof(fc.jsonValue(), fc.record({ countFraction: number, unseenMs: number })),
    loads: fc.uniqueArray(one, { selector: ({ id }) => id }),
    panels: fc.constantFrom([], [{ id: "surplus", isLatched: true }], null, [null]),
  });
  const times = fc.record({
    nowMs: fc.nat(),
    wallMs: fc.double({ noNaN: true }),
    savedWallMs: fc.double({ noNaN: true }),
    isWallClockPlausible: fc.boolean(),
  });

  it("it never throws, nothing is on, and the core can go on with it", () => {
    fc.assert(
      fc.property(fc.oneof(fc.jsonValue(), close), times, (body, at) => {
        const memory = restoreMemory(body, settings, at);
        for (const { stage, stoppedAtMs } of memory.loads) {
          expect(stage).toBe(0);
          expect(stoppedAtMs).toBeLessThanOrEqual(at.nowMs);
        }
        const { decision } = step(memory, observe(settings, at.nowMs), settings);
        expect(decision.loadStages).toEqual([0, 0]);
      }),
      { numRuns: 500 },
    );
  });

  it("no latch that can be read is lost", () => {
    fc.assert(
      fc.property(close, times, (body, at) => {
        const memory = restoreMemory(JSON.parse(JSON.stringify(body)), settings, at);
        for (const { id, latch: found } of body.loads) {
          expect(memory.loads.find((restored) => restored.id === id)?.latch).toBe(found);
        }
        expect(memory.panels[0]?.isLatched).toBe((body.panels?.[0] ?? null) !== null);
      }),
      { numRuns: 500 },
    );
  });
});
