/**
 * What must hold for every sequence of inputs. Times are drawn around the limits (T − 1, T, T + 1):
 * a rule that is wrong by a millisecond hides from uniform draws.
 */
import fc from "fast-check";
import { describe, expect, it, vi } from "vitest";
import type { Decision } from "../../service/control/decision.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { Memory } from "../../service/control/memory.ts";
import type {
  LoadObservation,
  LoadRequest,
  Observation,
  Quality,
} from "../../service/control/observation.ts";
import type { ControlSettings } from "../../service/control/settings.ts";
import { step } from "../../service/control/step.ts";
import { load, loadObservation, observe, panel, panelObservation, site } from "./given.ts";

/** Three hundred sequences take their time on a busy machine. */
vi.setConfig({ testTimeout: 60_000 });

const SEED = 20261125;
const RUNS = Number(process.env["BYWASH_PROPERTY_RUNS"] ?? 300);
const MIN_RUN_MS = 60_000;
const MIN_REST_MS = 40_000;
const STARTS_PER_HOUR = 3;
const HOUR_MS = 3_600_000;

const settings: ControlSettings = site({
  inverter: { ...site().inverter, temperatureMaxC: 70 },
  panels: [panel({ settleMs: 5_000, openAfterMs: 0, feederMaxW: 2600 })],
  staggerMs: 1_000,
  loads: [
    quick({
      id: "a",
      priority: 2,
      tank: { surplusC: 60, hysteresisK: 3, limitC: 75, volumeL: null },
    }),
    quick({ id: "b", priority: 1, panelIndex: 0, stagesW: [500, 1000, 2000] }),
    quick({
      id: "c",
      priority: 2,
      panelIndex: 0,
      hasReport: false,
      hasMeter: true,
      stagesW: [750],
    }),
  ],
});

function quick(over: Parameters<typeof load>[0]) {
  return load({
    minRunMs: MIN_RUN_MS,
    minRestMs: MIN_REST_MS,
    startsPerHourMax: STARTS_PER_HOUR,
    startForMs: 0,
    stopForMs: 0,
    settleMs: 5_000,
    ...over,
  });
}

interface Draw {
  readonly dtMs: number;
  readonly socFraction: number;
  readonly voltageV: number;
  readonly currentA: number;
  readonly inverterW: number;
  readonly isBrokerConnected: boolean;
  readonly qualities: readonly Quality[];
  readonly obeys: readonly boolean[];
  readonly tankC: number;
  readonly inverterC: number;
  readonly panelW: number;
  readonly requests: readonly LoadRequest[];
  readonly requestForMs: number;
}

const around = (limit: number) => [limit - 1, limit, limit + 1];
const mostly = <T>(usual: T, ...rare: T[]) =>
  fc.oneof({ weight: 30, arbitrary: fc.constant(usual) }, fc.constantFrom(usual, ...rare));

const quality = mostly<Quality>("fresh", "stale", "implausible", "waiting", "retained");

const request = fc.oneof(
  { weight: 9, arbitrary: fc.constant<LoadRequest>("none") },
  fc.constantFrom<LoadRequest>("none", "clear", "run", "run", "hold", "release"),
);

const draw: fc.Arbitrary<Draw> = fc.record({
  dtMs: fc.oneof(
    { weight: 6, arbitrary: fc.constantFrom(1_000, 10_000) },
    {
      weight: 4,
      arbitrary: fc.constantFrom(
        ...around(MIN_RUN_MS),
        ...around(MIN_REST_MS),
        ...around(5_000),
        ...around(HOUR_MS),
      ),
    },
    fc.integer({ min: 1, max: 90_000 }),
  ),
  socFraction: fc.oneof(
    { weight: 8, arbitrary: fc.constant(0.97) },
    { weight: 3, arbitrary: fc.constantFrom(0.96, 0.94, 0.92, 0.9199, 0.59, 0.5899) },
    fc.double({ min: 0.9, max: 1, noNaN: true }),
  ),
  voltageV: mostly(54, 48, 47.999, 58.001, 56),
  currentA: fc.oneof(
    { weight: 4, arbitrary: fc.constant(60) },
    fc.constantFrom(0, -1, -60),
    fc.integer({ min: -200, max: 200 }),
  ),
  inverterW: mostly(300, 8_000, 8_000.1, 6_001, 7_999),
  isBrokerConnected: mostly(true, false),
  qualities: fc.tuple(quality, quality, quality, quality, quality, quality),
  obeys: fc.tuple(mostly(true, false), mostly(true, false), mostly(true, false)),
  tankC: mostly(50, 60, 74.999, 75),
  inverterC: mostly(40, 70, 70.001),
  panelW: mostly(0, 2_600, 2_600.1),
  requests: fc.tuple(request, request, request),
  requestForMs: fc.constantFrom(0, 5_000, MIN_RUN_MS, HOUR_MS, 100 * HOUR_MS),
});

const draws = fc.array(draw, { minLength: 5, maxLength: 120 });

function observationOf(drawn: Draw, memory: Memory, atMs: number): Observation {
  const [soc, voltage, current, inverter, tank, heat] = drawn.qualities;
  const at = <T>(value: T, q: Quality | undefined) => ({ value, quality: q ?? "fresh", ageMs: 0 });
  const loads = memory.loads.map((remembered, index): LoadObservation => {
    const isObeying = drawn.obeys[index] === true;
    const shown = isObeying ? remembered.stage : (remembered.stage + 1) % 2;
    return loadObservation({
      reportedStage: at(shown, "fresh"),
      powerW: index === 2 ? at(shown > 0 ? 750 : 0, "fresh") : loadObservation().powerW,
      tankTemperatureC: index === 0 ? at(drawn.tankC, tank) : loadObservation().powerW,
      request: drawn.requests[index] ?? "none",
      requestForMs: drawn.requestForMs,
    });
  });
  const isClosed = memory.panels[0]?.isClosed === true;
  return observe(settings, atMs, {
    ...drawn,
    battery: {
      socFraction: at(drawn.socFraction, soc),
      voltageV: at(drawn.voltageV, voltage),
      currentA: at(drawn.currentA, current),
    },
    inverter: { powerW: at(drawn.inverterW, inverter), temperatureC: at(drawn.inverterC, heat) },
    over: { isBrokerConnected: drawn.isBrokerConnected },
    loads,
    panels: [
      panelObservation({ isClosed: at(isClosed, "fresh"), powerW: at(drawn.panelW, "fresh") }),
    ],
  });
}

interface Tick {
  readonly atMs: number;
  readonly before: Memory;
  readonly observation: Observation;
  readonly decision: Decision;
}

/** Runs the drawn inputs through the core; memory goes through JSON between ticks. */
function runAll(inputs: readonly Draw[]): Tick[] {
  const ticks: Tick[] = [];
  let memory = initialMemory(settings, 0);
  // Half of the runs begin after the hour in which the starts count as used up.
  let atMs = inputs.length % 2 === 0 ? 0 : HOUR_MS;
  for (const drawn of inputs) {
    atMs += drawn.dtMs;
    const observation = observationOf(drawn, memory, atMs);
    const before = memory;
    const result = step(before, observation, settings);
    ticks.push({ atMs, before, observation, decision: result.decision });
    memory = JSON.parse(JSON.stringify(result.memory)) as Memory;
  }
  return ticks;
}

function holds(check: (ticks: readonly Tick[]) => void): void {
  fc.assert(
    fc.property(draws, (inputs) => {
      check(runAll(inputs));
    }),
    { seed: SEED, numRuns: RUNS },
  );
}

/** Written from CONTROL.md 8 without looking at the core's own interlocks. */
function mustBeOff(observation: Observation): boolean {
  const { battery, inverter } = observation;
  const isLost = (q: Quality) => q !== "fresh";
  return (
    !observation.isBrokerConnected ||
    isLost(battery.voltageV.quality) ||
    isLost(battery.currentA.quality) ||
    isLost(inverter.powerW.quality) ||
    isLost(inverter.temperatureC.quality) ||
    battery.voltageV.value < 48 ||
    (battery.socFraction.quality === "fresh" && battery.socFraction.value < 0.6 - 0.01) ||
    inverter.powerW.value > 8000 ||
    inverter.temperatureC.value > 70
  );
}

/** Starts and stops of one load, with the verdict that came with them. */
function switchings(ticks: readonly Tick[], index: number) {
  const found: { readonly atMs: number; readonly isStart: boolean; readonly tick: Tick }[] = [];
  for (const tick of ticks) {
    const wasOn = (tick.before.loads[index]?.stage ?? 0) > 0;
    const isOn = (tick.decision.loadStages[index] ?? 0) > 0;
    if (wasOn !== isOn) found.push({ atMs: tick.atMs, isStart: isOn, tick });
  }
  return found;
}

const INTERLOCKS = new Set([
  "site-interlock",
  "tank-hot",
  "tank-unknown",
  "feeder-overload",
  "panel-open",
  "unconfirmed",
  "latched-dead",
  "latched-welded",
  "latched-panel",
  "held-off",
]);

describe("for every sequence of inputs", () => {
  it("the draws do start loads, stop them and trip interlocks", () => {
    let starts = 0;
    let held = 0;
    holds((ticks) => {
      for (const index of [0, 1, 2]) starts += switchings(ticks, index).length;
      held += ticks.filter((tick) => mustBeOff(tick.observation)).length;
    });
    expect(starts).toBeGreaterThan(RUNS);
    expect(held).toBeGreaterThan(RUNS);
  });

  it("no load runs against an interlock of the site", () => {
    holds((ticks) => {
      for (const { observation, decision } of ticks) {
        if (!mustBeOff(observation)) continue;
        expect(decision.loadStages).toEqual([0, 0, 0]);
        expect(decision.panelsClosed).toEqual([false]);
      }
    });
  });

  it("no load runs on a hot or unknown tank, an overloaded feeder, an open panel or a latch", () => {
    holds((ticks) => {
      for (const { before, observation, decision } of ticks) {
        const tank = observation.loads[0]?.tankTemperatureC;
        const [a = 0, b = 0, c = 0] = decision.loadStages;
        if (tank?.quality !== "fresh" || tank.value >= 75) expect(a).toBe(0);
        if ((observation.panels[0]?.powerW.value ?? 0) > 2600) expect([b, c]).toEqual([0, 0]);
        if (decision.panelsClosed[0] !== true) expect([b, c]).toEqual([0, 0]);
        for (const [index, memory] of before.loads.entries()) {
          if (memory.latch === "none" || observation.loads[index]?.request === "clear") continue;
          expect(decision.loadStages[index]).toBe(0);
        }
      }
    });
  });

  it("minimum run is broken by nothing but an interlock", () => {
    holds((ticks) => {
      for (const index of [0, 1, 2]) {
        let startedAtMs = 0;
        for (const { atMs, isStart, tick } of switchings(ticks, index)) {
          if (isStart) startedAtMs = atMs;
          else if (atMs - startedAtMs < MIN_RUN_MS) {
            expect(INTERLOCKS).toContain(tick.decision.verdicts[index]?.code);
          }
        }
      }
    });
  });

  it("minimum rest and starts per hour are never broken", () => {
    holds((ticks) => {
      for (const index of [0, 1, 2]) {
        let stoppedAtMs = 0;
        const startsAtMs: number[] = [];
        for (const { atMs, isStart } of switchings(ticks, index)) {
          if (!isStart) stoppedAtMs = atMs;
          else {
            expect(atMs - stoppedAtMs).toBeGreaterThanOrEqual(MIN_REST_MS);
            startsAtMs.push(atMs);
            const recent = startsAtMs.filter((startMs) => atMs - startMs < HOUR_MS);
            expect(recent.length).toBeLessThanOrEqual(STARTS_PER_HOUR);
            // Nobody knows what happened before the core started: the first hour is used up.
            expect(atMs).toBeGreaterThanOrEqual(HOUR_MS);
          }
        }
      }
    });
  });

  it("rated power on a feeder stays within it, and one load at most starts per stagger time", () => {
    holds((ticks) => {
      let lastStartMs = Number.NEGATIVE_INFINITY;
      for (const { before, decision, atMs } of ticks) {
        const [, b = 0, c = 0] = decision.loadStages;
        expect(([0, 500, 1000, 2000][b] ?? 0) + c * 750).toBeLessThanOrEqual(2600);
        const risen = decision.loadStages.filter(
          (stage, index) => stage > (before.loads[index]?.stage ?? 0),
        );
        expect(risen.length).toBeLessThanOrEqual(1);
        if (risen.length === 0) continue;
        expect(atMs - lastStartMs).toBeGreaterThanOrEqual(1_000);
        lastStartMs = atMs;
      }
    });
  });

  it("what a person holds off is off until they release it or its time is up", () => {
    let heldTicks = 0;
    holds((ticks) => {
      for (const index of [0, 1, 2]) {
        let untilMs = Number.NEGATIVE_INFINITY;
        for (const { atMs, observation, decision } of ticks) {
          const { request = "none", requestForMs = 0 } = observation.loads[index] ?? {};
          if (request === "run" || request === "release") untilMs = Number.NEGATIVE_INFINITY;
          if (request === "hold") untilMs = atMs + Math.min(12 * HOUR_MS, requestForMs);
          if (atMs >= untilMs) continue;
          heldTicks += 1;
          expect(decision.loadStages[index]).toBe(0);
        }
      }
    });
    expect(heldTicks).toBeGreaterThan(RUNS);
  });

  it("a run on request starts only after its asking, and not under the floor", () => {
    let starts = 0;
    holds((ticks) => {
      for (const index of [0, 1, 2]) {
        let untilMs = Number.NEGATIVE_INFINITY;
        for (const { atMs, observation, decision, before } of ticks) {
          const { request = "none", requestForMs = 0 } = observation.loads[index] ?? {};
          if (request === "hold" || request === "release") untilMs = Number.NEGATIVE_INFINITY;
          if (request === "run") untilMs = atMs + Math.min(12 * HOUR_MS, requestForMs);
          if (decision.verdicts[index]?.code !== "running-asked") continue;
          // One that was asked for no time has this tick.
          expect(request === "run" || atMs < untilMs).toBe(true);
          if ((before.loads[index]?.stage ?? 0) > 0) continue;
          starts += 1;
          expect(decision.site.socFraction ?? 0).toBeGreaterThanOrEqual(0.6);
        }
      }
    });
    expect(starts).toBeGreaterThan(RUNS / 10);
  });

  it("there is a verdict for every load at every tick, with its stage", () => {
    holds((ticks) => {
      for (const { decision } of ticks) {
        expect(decision.verdicts.map((verdict) => verdict.stage)).toEqual(decision.loadStages);
      }
    });
  });

  it("the same inputs give the same decisions", () => {
    fc.assert(
      fc.property(draws, (inputs) => {
        expect(runAll(inputs)).toEqual(runAll(inputs));
      }),
      { seed: SEED, numRuns: 50 },
    );
  });

  it("the order in which loads stand in the settings changes nothing", () => {
    const order = [2, 0, 1];
    const pick = <T>(list: readonly T[]): T[] => order.flatMap((index) => list[index] ?? []);
    const shuffled = { ...settings, loads: pick(settings.loads) };
    fc.assert(
      fc.property(draws, (inputs) => {
        let memory = initialMemory(shuffled, 0);
        for (const { observation, decision } of runAll(inputs)) {
          const loads = pick(observation.loads);
          const result = step(memory, { ...observation, loads }, shuffled);
          expect(result.decision.loadStages).toEqual(pick(decision.loadStages));
          expect(result.decision.verdicts).toEqual(pick(decision.verdicts));
          memory = result.memory;
        }
      }),
      { seed: SEED, numRuns: 100 },
    );
  });
});
