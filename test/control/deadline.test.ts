/** A load that has to be ready by a time of day. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { dueLeftMs } from "../../service/control/deadline.ts";
import { explainVerdict } from "../../service/control/explain.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { LoadObservation } from "../../service/control/observation.ts";
import type { DeadlineSettings, LoadSettings } from "../../service/control/settings.ts";
import { fresh, HOUR_MS, load, loadObservation, lost, MINUTE_MS } from "./given.ts";
import { Run, site, TICK_MS } from "./given.ts";
import type { Scene } from "./given.ts";

/** Under the rule curve, with the battery giving: no load would start by itself. */
const DULL = { socFraction: 0.8, currentA: -1, arrayW: 0, voltageV: 52 } as const;
const tank = { surplusC: 68, hysteresisK: 4, limitC: 75, volumeL: 200 };

function deadline(over: Partial<DeadlineSettings> = {}): DeadlineSettings {
  return {
    byMinute: 18 * 60 + 30,
    reachC: 50,
    reachRunMs: null,
    reachWh: null,
    mayDrawToFraction: 0.7,
    ...over,
  };
}

function withDeadline(
  over: Partial<DeadlineSettings> = {},
  ofLoad: Partial<LoadSettings> = {},
): Run {
  return fromAfternoon(
    new Run(site({ loads: [load({ tank, deadline: deadline(over), ...ofLoad })] })),
  );
}

/** The clock of a run stands at noon when it begins: here it is somewhat later. */
function fromAfternoon(run: Run): Run {
  run.atMs = (16 * 60 + 30 - 12 * 60) * MINUTE_MS;
  run.memory = initialMemory(run.settings, run.atMs);
  return run;
}

const UNCHANGED = { wallMs: 0, clockChangeMs: 0, clockShiftMin: 0 };

/**
 * Minutes from an instant to a local time, counted by hand from the zones' rules: Italy at 01:00
 * UTC of the last Sunday of March and October, Tasmania at 16:00 UTC of the day before the first
 * Sunday of October and April.
 */
const NIGHTS = [
  // 23:00 in winter, forward at 02:00: 06:00 is six hours away, 01:30 before the change 2 h 30 min,
  // 02:30 is left out, and 23:00 comes after 23 h.
  { zone: "Europe/Rome", at: "2026-03-28T22:00:00Z", by: 360, leftMin: 360 },
  { zone: "Europe/Rome", at: "2026-03-28T22:00:00Z", by: 90, leftMin: 150 },
  { zone: "Europe/Rome", at: "2026-03-28T22:00:00Z", by: 150, leftMin: 180 },
  { zone: "Europe/Rome", at: "2026-03-28T22:00:00Z", by: 180, leftMin: 180 },
  { zone: "Europe/Rome", at: "2026-03-28T22:00:00Z", by: 1380, leftMin: 1380 },
  // After the change, and a day before it.
  { zone: "Europe/Rome", at: "2026-03-29T01:00:00Z", by: 360, leftMin: 180 },
  { zone: "Europe/Rome", at: "2026-03-27T22:00:00Z", by: 360, leftMin: 420 },
  // 23:00 in summer, back at 03:00: 06:00 is eight hours away, the first 02:30 3 h 30 min.
  { zone: "Europe/Rome", at: "2026-10-24T21:00:00Z", by: 360, leftMin: 480 },
  { zone: "Europe/Rome", at: "2026-10-24T21:00:00Z", by: 150, leftMin: 210 },
  { zone: "Europe/Rome", at: "2026-10-24T21:00:00Z", by: 180, leftMin: 300 },
  { zone: "Europe/Rome", at: "2026-10-24T21:00:00Z", by: 1380, leftMin: 1500 },
  // 22:00 in Tasmania's winter, and in its summer.
  { zone: "Australia/Hobart", at: "2026-10-03T12:00:00Z", by: 420, leftMin: 480 },
  { zone: "Australia/Hobart", at: "2026-04-04T11:00:00Z", by: 420, leftMin: 600 },
  { zone: "Australia/Hobart", at: "2026-04-04T16:00:00Z", by: 420, leftMin: 300 },
];

const codeOf = (run: Run) => run.decision?.verdicts[0]?.code;
const minuteOf = (run: Run) => 12 * 60 + Math.floor(run.atMs / MINUTE_MS);

/** Lives on till just before `minute` of the day; what is heated warms as 200 L do. */
function until(run: Run, minute: number, fromC: number, scene: Scene = DULL): void {
  let tankC = fromC;
  run.during((minute - 12 * 60) * MINUTE_MS - run.atMs - TICK_MS, () => {
    if (run.stages[0] === 2) tankC += (2000 * TICK_MS) / HOUR_MS / (200 * 1.163);
    return { ...scene, loads: run.loads({ tankTemperatureC: fresh(tankC) }) };
  });
}

/** 10 K of 200 L are 2.326 kWh, at 2 kW 69.78 min: with a quarter and 5 min more, 92.2 min. */
const DUE_MINUTE = 18 * 60 + 30 - 92;

describe("a tank that has to be warm by half past six", () => {
  it("is heated by the battery from the last moment on, and says so", () => {
    const run = withDeadline();
    until(run, DUE_MINUTE, 40);
    expect(run.stages).toEqual([0]);
    expect(codeOf(run)).toBe("waiting-band");
    until(run, DUE_MINUTE + 1, 40);
    expect(run.stages).toEqual([2]);
    const { site: shown, verdicts } = run.decision!;
    expect(explainVerdict(verdicts[0]!, shown)).toBe(
      "on to be ready in 92 min: battery 80.0 %, not under 70.0 %",
    );
  });

  it("is no longer heated once it is, and not again for two kelvins", () => {
    const run = withDeadline({}, { minRunMs: MINUTE_MS, minRestMs: MINUTE_MS });
    // Ten kelvins take 69.8 minutes.
    until(run, DUE_MINUTE + 69, 40);
    expect(run.stages).toEqual([2]);
    until(run, DUE_MINUTE + 71, 49.95);
    expect(run.stages).toEqual([0]);
    until(run, 18 * 60 + 20, 48.1);
    expect(run.stages).toEqual([0]);
    until(run, 18 * 60 + 21, 48);
    expect(run.stages).toEqual([2]);
  });

  it("is left alone again when the time has passed", () => {
    const run = withDeadline();
    // Thirty kelvins take far longer than there is time.
    until(run, 18 * 60 + 30, 20);
    expect(run.stages).toEqual([2]);
    until(run, 18 * 60 + 32, 37);
    expect(run.stages).toEqual([0]);
    expect(run.memory.loads[0]?.asked).toBeNull();
  });

  it("runs on surplus before that as any other load", () => {
    const run = withDeadline({ byMinute: 20 * 60 });
    until(run, 16 * 60 + 45, 40, {});
    expect(run.stages).toEqual([2]);
    expect(codeOf(run)).toBe("running");
  });

  it("does not start nor go on under what may be drawn, and has a person told in time", () => {
    const run = withDeadline({}, { minRunMs: MINUTE_MS });
    until(run, DUE_MINUTE + 1, 40, { ...DULL, socFraction: 0.7199 });
    expect(run.stages).toEqual([0]);
    expect(codeOf(run)).toBe("late-battery");
    expect(explainVerdict(run.decision!.verdicts[0]!, run.decision!.site)).toBe(
      "will be late: due in 92 min, battery 72.0 %, not under 70.0 %",
    );
    until(run, DUE_MINUTE + 5, 40, { ...DULL, socFraction: 0.72 });
    expect(run.stages).toEqual([2]);
    until(run, DUE_MINUTE + 10, 40.6, { ...DULL, socFraction: 0.7 });
    expect(run.stages).toEqual([2]);
    until(run, DUE_MINUTE + 13, 41.3, { ...DULL, socFraction: 0.6999 });
    expect(run.stages).toEqual([0]);
    until(run, DUE_MINUTE + 30, 41.3, { ...DULL, socFraction: 0.7199 });
    expect(codeOf(run)).toBe("late-battery");
  });

  it("raises that as an alarm once, and clears it", () => {
    const run = withDeadline();
    const events: string[] = [];
    const low = { ...DULL, socFraction: 0.68 };
    while (minuteOf(run) < 18 * 60 + 40) {
      const loads = run.loads({ tankTemperatureC: fresh(40) });
      for (const { change, code } of run.tick({ ...low, loads }).events) {
        events.push(`${change} ${code}`);
      }
    }
    expect(events).toEqual(["raised late-battery", "cleared late-battery"]);
  });

  it.each([
    ["may not draw at all", {}, { mayDrawToFraction: null }],
    ["does not know the state of charge", { battery: { socFraction: lost(0) } }, {}],
  ])("only says that it will be late where it %s", (_, over, settings) => {
    const run = withDeadline(settings);
    const loads = () => run.loads({ tankTemperatureC: fresh(40) });
    const scene = { ...DULL, ...over };
    run.during(30 * MINUTE_MS, () => ({ ...scene, loads: loads() }));
    expect(run.stages).toEqual([0]);
    expect(["late-without-sun", "site-interlock"]).toContain(codeOf(run));
  });

  it("goes off by an interlock, and on again by itself after its rest", () => {
    const run = withDeadline();
    until(run, DUE_MINUTE + 2, 40);
    expect(run.stages).toEqual([2]);
    until(run, DUE_MINUTE + 3, 40, { ...DULL, voltageV: 47 });
    expect(run.stages).toEqual([0]);
    until(run, DUE_MINUTE + 20, 40);
    expect(run.stages).toEqual([2]);
    expect(codeOf(run)).toBe("running-to-be-ready");
  });

  it("stays off while a person holds it off", () => {
    const run = withDeadline();
    until(run, 16 * 60 + 35, 40);
    const hold: Partial<LoadObservation> = { request: "hold", requestForMs: 12 * HOUR_MS };
    run.tick({ ...DULL, loads: run.loads({ tankTemperatureC: fresh(40), ...hold }) });
    until(run, 18 * 60, 40);
    expect(run.stages).toEqual([0]);
    expect(codeOf(run)).toBe("held-off");
  });

  it("is not known to be in time by a clock in doubt", () => {
    const run = withDeadline();
    until(run, DUE_MINUTE + 20, 40, { ...DULL, over: { isWallClockPlausible: false } });
    expect(run.stages).toEqual([0]);
    expect(codeOf(run)).toBe("waiting-band");
  });

  it("goes before another load of its rank", () => {
    const first = load({ id: "a", priority: 1 });
    const second = load({ id: "b", tank, deadline: deadline(), stagesW: [2000] });
    const run = fromAfternoon(new Run(site({ loads: [first, second] })));
    const loads = () => run.loads({ tankTemperatureC: fresh(40) });
    run.during((DUE_MINUTE + 2 - 16 * 60 - 30) * MINUTE_MS, () => ({ ...DULL, loads: loads() }));
    expect(run.stages).toEqual([0, 1]);
    expect(run.decision!.verdicts[1]!.code).toBe("running-to-be-ready");
  });
});

describe("what else can be reached", () => {
  it("is a run time of the day, by rating or not", () => {
    const run = withDeadline({ reachC: null, reachRunMs: HOUR_MS }, { tank: null });
    // 60 min, a quarter and 5 min more: 80 min before half past six.
    until(run, 17 * 60 + 10, 40);
    expect(run.stages).toEqual([0]);
    until(run, 17 * 60 + 11, 40);
    expect(run.stages).toEqual([2]);
    until(run, 18 * 60 + 13, 40);
    expect(run.stages).toEqual([0]);
    expect(run.memory.loads[0]!.ranTodayMs).toBeGreaterThanOrEqual(HOUR_MS);
    expect(run.memory.loads[0]!.ranTodayMs).toBeLessThan(HOUR_MS + 3 * MINUTE_MS);
  });

  it("is as far away as the clocks make it in the nights in which they change", () => {
    const lefts = NIGHTS.flatMap(({ zone, at, by, leftMin }) => {
      const wallMs = Date.parse(at);
      const observation = {
        wallMs,
        isWallClockPlausible: true,
        ...createLocalCalendar(zone)(wallMs),
      };
      const settings = load({
        deadline: deadline({ reachC: null, reachRunMs: 24 * HOUR_MS, byMinute: by }),
      });
      const memory = initialMemory(site({ loads: [settings] }), 0).loads[0]!;
      const leftMs = dueLeftMs(memory, { settings, observation, load: loadObservation() });
      return leftMs === leftMin * MINUTE_MS
        ? []
        : [[zone, at, by, leftMin, (leftMs ?? NaN) / MINUTE_MS]];
    });
    expect(lefts).toEqual([]);
  });

  it("counts the clocks as they are where a recording says nothing of their change", () => {
    const at = { wallMs: 0, localMinute: 18 * 60, isWallClockPlausible: true };
    // As versions wrote it that did not have the two figures.
    const observation = JSON.parse(JSON.stringify(at)) as typeof at & typeof UNCHANGED;
    const settings = load({ deadline: deadline({ reachC: null, reachRunMs: 24 * HOUR_MS }) });
    const memory = initialMemory(site({ loads: [settings] }), 0).loads[0]!;
    expect(dueLeftMs(memory, { settings, observation, load: loadObservation() })).toBe(
      30 * MINUTE_MS,
    );
  });

  it("is an energy of the day, of a modulating load at the power that it surely has", () => {
    const settings = deadline({ reachC: null, reachWh: 1000 });
    const own = { settings: load({ deadline: settings }), load: loadObservation() };
    const memory = initialMemory(site({ loads: [own.settings] }), 0).loads[0]!;
    const at = (localMinute: number) => ({ ...own, observation: { localMinute, ...clock } });
    const clock = { isWallClockPlausible: true, ...UNCHANGED };
    // 30 min at 2 kW: 42.5 min before.
    expect(dueLeftMs(memory, at(17 * 60 + 47))).toBeNull();
    expect(dueLeftMs(memory, at(17 * 60 + 48))).toBe(42 * MINUTE_MS);
    expect(dueLeftMs({ ...memory, usedTodayWh: 1000 }, at(17 * 60 + 48))).toBeNull();
    const modulating = { minW: 400, maxW: 4000, stepW: 10, riseWPerS: 10 };
    const wide = { ...own.settings, stagesW: [400], modulating };
    // 150 min at 400 W: 192.5 min before.
    expect(dueLeftMs(memory, { ...at(15 * 60 + 17), settings: wide })).toBeNull();
    expect(dueLeftMs(memory, { ...at(15 * 60 + 18), settings: wide })).toBe(192 * MINUTE_MS);
  });

  it("is reached in time by a modulating load that gets no surplus", () => {
    const modulating = { minW: 1000, maxW: 4000, stepW: 10, riseWPerS: 10 };
    const own = { tank: null, stagesW: [1000], modulating };
    const run = withDeadline({ reachC: null, reachWh: 1000 }, own);
    until(run, 18 * 60 + 30, 40);
    expect(run.memory.loads[0]!.usedTodayWh).toBeGreaterThanOrEqual(1000);
    expect(run.memory.loads[0]!.usedTodayWh).toBeLessThan(1500);
  });

  it("is not a temperature that nobody measures, or in a tank of no known volume", () => {
    const memory = initialMemory(site(), 0).loads[0]!;
    const observation = { localMinute: 18 * 60 + 20, isWallClockPlausible: true, ...UNCHANGED };
    const warm = loadObservation({ tankTemperatureC: fresh(40) });
    const of = (settings: LoadSettings, seen = warm) =>
      dueLeftMs(memory, { settings, observation, load: seen });
    expect(of(load({ tank, deadline: deadline() }))).toBe(10 * MINUTE_MS);
    const without = { tank: { ...tank, volumeL: null }, deadline: deadline() };
    expect(of(load(without))).toBeNull();
    expect(of(load({ tank: null, deadline: deadline() }))).toBeNull();
    const stale = loadObservation({ tankTemperatureC: { value: 40, quality: "stale", ageMs: 9 } });
    expect(of(load({ tank, deadline: deadline() }), stale)).toBeNull();
    expect(of(load({ tank, deadline: deadline({ reachC: null }) }))).toBeNull();
  });

  it("may be wanted in the night: the time left goes over midnight", () => {
    const memory = initialMemory(site(), 0).loads[0]!;
    const settings = load({ tank, deadline: deadline({ byMinute: 30 }) });
    const warm = loadObservation({ tankTemperatureC: fresh(40) });
    const at = (localMinute: number) =>
      dueLeftMs(memory, {
        settings,
        observation: { localMinute, isWallClockPlausible: true, ...UNCHANGED },
        load: warm,
      });
    expect(at(23 * 60)).toBe(90 * MINUTE_MS);
    expect(at(0)).toBe(30 * MINUTE_MS);
    expect(at(30)).toBeNull();
  });
});

/** Times, states of charge and temperatures around every limit of it. */
const around = (limit: number, step: number) => [limit - step, limit, limit + step];
const moment = fc.record({
  forTicks: fc.integer({ min: 1, max: 120 }),
  socFraction: fc.constantFrom(...around(0.7, 1e-4), ...around(0.72, 1e-4), 0.6, 0.9),
  tankC: fc.constantFrom(...around(50, 0.1), ...around(48, 0.1), 30),
  request: fc.constantFrom("none", "none", "none", "release", "hold", "run"),
});

it("never begins to be ready under what may be drawn, when it is, or before it is due", () => {
  let begun = 0;
  fc.assert(
    fc.property(
      fc.array(moment, { minLength: 5, maxLength: 40 }),
      fc.integer({ min: 17 * 60, max: 17 * 60 + 50 }),
      (moments, fromMinute) => {
        const run = withDeadline({}, { minRunMs: 0, minRestMs: 0, startsPerHourMax: null });
        run.atMs = (fromMinute - 12 * 60) * MINUTE_MS;
        run.memory = initialMemory(run.settings, run.atMs - 10 * MINUTE_MS);
        for (const { forTicks, socFraction, tankC, request } of moments) {
          for (let tick = 0; tick < forTicks; tick += 1) {
            const before = run.stages[0];
            const asks = tick === 0 && request !== "none";
            const own = asks ? ({ request, requestForMs: MINUTE_MS } as const) : {};
            const loads = run.loads({ tankTemperatureC: fresh(tankC), ...own });
            const { verdicts } = run.tick({ ...DULL, socFraction, loads });
            if (verdicts[0]!.code !== "running-to-be-ready") continue;
            expect(socFraction).toBeGreaterThanOrEqual(0.7);
            expect(tankC).toBeLessThanOrEqual(50);
            // What is left is counted in whole minutes.
            expect(minuteOf(run)).toBeLessThanOrEqual(18 * 60 + 30);
            if (before !== 0) continue;
            begun += 1;
            const leftMinutes = 18 * 60 + 30 - minuteOf(run);
            const neededMinutes = ((50 - tankC) * 200 * 1.163 * 60) / 2000;
            expect(leftMinutes).toBeLessThanOrEqual(1.25 * neededMinutes + 5 + 1e-9);
          }
        }
      },
    ),
    { seed: 20261127, numRuns: 80 },
  );
  expect(begun).toBeGreaterThan(15);
  expect(TICK_MS).toBeLessThan(MINUTE_MS);
});
