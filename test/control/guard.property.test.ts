/**
 * What must hold of tanks, pumps and sockets whatever happens. Written from the control law without
 * looking at how the core goes about it.
 */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Decision } from "../../service/control/decision.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { Memory } from "../../service/control/memory.ts";
import type { LoadObservation, Observation, Quality } from "../../service/control/observation.ts";
import { step } from "../../service/control/step.ts";
import { load, loadObservation, observe, site } from "./given.ts";

const SEED = 20261126;
const RUNS = Number(process.env["BYWASH_PROPERTY_RUNS"] ?? 200);
/** The machine may be busy. [ms] */
const TIMEOUT_MS = 600_000;

const SETTLE_MS = 5_000;
const DRY_FOR_MS = 10_000;
const DRY_REST_MS = 1_800_000;
const WARN_MS = 30_000;
const GRACE_MS = 60_000;
const REQUEST_MS = 600_000;
const MIN_REST_MS = 40_000;
const SOCKETS_MAX_W = 2000;
const STARTS_PER_DAY = 2;

const quick = (over: Parameters<typeof load>[0]) =>
  load({
    stagesW: [800],
    minRunMs: 60_000,
    minRestMs: MIN_REST_MS,
    startForMs: 0,
    stopForMs: 0,
    settleMs: SETTLE_MS,
    hasMeter: true,
    ...over,
  });

const settings = site({
  staggerMs: 1_000,
  loads: [
    quick({
      id: "pump",
      startsPerDayMax: STARTS_PER_DAY,
      pump: {
        dryRun: { belowW: 300, belowLPerMin: null, forMs: DRY_FOR_MS },
        hasSourceContact: true,
        level: { fullFraction: 0.95, resumeFraction: 0.8 },
        pipeMinC: 2,
      },
    }),
    quick({
      id: "workshop",
      priority: 2,
      sockets: {
        maximumW: SOCKETS_MAX_W,
        warnMs: WARN_MS,
        finishGraceMs: GRACE_MS,
        hasRequest: true,
        requestMs: REQUEST_MS,
      },
    }),
    quick({
      id: "boiler",
      priority: 3,
      hasMeter: false,
      tank: { surplusC: 68, hysteresisK: 4, limitC: 75, volumeL: 100 },
    }),
  ],
});

interface Draw {
  readonly dtMs: number;
  readonly socFraction: number;
  readonly pumpW: number;
  readonly socketsW: number;
  readonly tankC: number;
  readonly levelFraction: number;
  readonly pipeC: number;
  readonly isSourceLow: boolean;
  readonly isPressed: boolean;
  readonly isCleared: boolean;
  readonly voltageV: number;
  readonly qualities: readonly Quality[];
}

const mostly = <T>(usual: T, ...rare: T[]) =>
  fc.oneof({ weight: 20, arbitrary: fc.constant(usual) }, fc.constantFrom(usual, ...rare));
const around = (limit: number) => [limit - 1, limit, limit + 1];
const quality = mostly<Quality>("fresh", "stale", "implausible", "waiting", "retained");

const draw: fc.Arbitrary<Draw> = fc.record({
  dtMs: fc.oneof(
    { weight: 8, arbitrary: fc.constantFrom(1_000, 5_000, 10_000, 30_000) },
    {
      weight: 3,
      arbitrary: fc.constantFrom(
        ...around(SETTLE_MS),
        ...around(DRY_FOR_MS),
        ...around(WARN_MS),
        ...around(GRACE_MS),
        ...around(REQUEST_MS),
        ...around(DRY_REST_MS),
      ),
    },
  ),
  socFraction: fc.oneof(
    { weight: 6, arbitrary: fc.constant(0.97) },
    fc.constantFrom(0.91, 0.93, 0.96),
  ),
  // A dry spell lasts: half of the draws are dry.
  pumpW: fc.oneof(
    { weight: 3, arbitrary: fc.constant(700) },
    { weight: 3, arbitrary: fc.constantFrom(299.9, 250) },
    fc.constant(300),
  ),
  socketsW: mostly(500, 0, 20, 20.1, SOCKETS_MAX_W, SOCKETS_MAX_W + 0.1),
  tankC: mostly(50, 67.9, 68, 75, 30),
  levelFraction: mostly(0.5, 0.8, 0.9, 0.95),
  pipeC: mostly(8, 2, 1.99),
  isSourceLow: mostly(false, true),
  isPressed: fc.oneof({ weight: 3, arbitrary: fc.constant(false) }, fc.constant(true)),
  isCleared: mostly(false, true),
  voltageV: mostly(54, 47.9),
  qualities: fc.tuple(quality, quality, quality, quality, quality, quality),
});

const draws = fc.array(draw, { minLength: 10, maxLength: 120 });

interface Tick {
  readonly atMs: number;
  readonly before: Memory;
  readonly observation: Observation;
  readonly decision: Decision;
  readonly drawn: Draw;
}

function observationOf(drawn: Draw, memory: Memory, atMs: number): Observation {
  const [meter, sockets, source, level, pipe, tank] = drawn.qualities;
  const at = <T>(value: T, q: Quality | undefined) => ({ value, quality: q ?? "fresh", ageMs: 0 });
  const loads = memory.loads.map((remembered, index): LoadObservation => {
    const isOn = remembered.stage > 0;
    const powerW = index === 0 ? drawn.pumpW : drawn.socketsW;
    return loadObservation({
      reportedStage: at(remembered.stage, "fresh"),
      powerW: at(isOn ? powerW : 0, index === 0 ? meter : sockets),
      isSourceLow: at(drawn.isSourceLow, source),
      levelFraction: at(drawn.levelFraction, level),
      pipeTemperatureC: at(drawn.pipeC, pipe),
      tankTemperatureC: at(drawn.tankC, tank),
      isPressed: at(drawn.isPressed, "fresh"),
      request: drawn.isCleared ? "clear" : "none",
    });
  });
  const { socFraction, voltageV } = drawn;
  return observe(settings, atMs, { socFraction, voltageV, loads });
}

function runAll(inputs: readonly Draw[]): Tick[] {
  const ticks: Tick[] = [];
  let memory = initialMemory(settings, 0);
  let atMs = 0;
  for (const drawn of inputs) {
    atMs += drawn.dtMs;
    const observation = observationOf(drawn, memory, atMs);
    const before = memory;
    const result = step(before, observation, settings);
    ticks.push({ atMs, before, observation, decision: result.decision, drawn });
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

const isOn = ({ decision }: Tick, index: number) => (decision.loadStages[index] ?? 0) > 0;
const wasOn = ({ before }: Tick, index: number) => (before.loads[index]?.stage ?? 0) > 0;
const PUMP = 0;
const SOCKETS = 1;
const BOILER = 2;

describe("for every sequence of inputs", () => {
  it("the draws start every load, and stop it for every reason", { timeout: TIMEOUT_MS }, () => {
    const codes = new Set<string>();
    const starts = [0, 0, 0];
    holds((ticks) => {
      for (const tick of ticks) {
        for (const { code } of tick.decision.verdicts) codes.add(code);
        for (const index of starts.keys()) {
          if (isOn(tick, index) && !wasOn(tick, index)) starts[index] = (starts[index] ?? 0) + 1;
        }
      }
    });
    expect(Math.min(...starts)).toBeGreaterThan(RUNS / 2);
    for (const code of [
      "pump-dry",
      "pump-source-low",
      "pipe-cold",
      "cistern-full",
      "waiting-dry-run",
      "sockets-overload",
      "sockets-going-off",
      "sockets-finishing",
      "waiting-request",
      "waiting-starts-day",
      "tank-hot",
      "latched-element",
    ]) {
      expect(codes).toContain(code);
    }
  });

  it("no pump runs on doubt, and none on dry", { timeout: TIMEOUT_MS }, () => {
    holds((ticks) => {
      let drySinceMs: number | null = null;
      for (const tick of ticks) {
        const { observation, drawn, atMs, before } = tick;
        const seen = observation.loads[PUMP];
        const signals = [seen?.powerW, seen?.isSourceLow, seen?.levelFraction];
        const isLost = [...signals, seen?.pipeTemperatureC].some((one) => one?.quality !== "fresh");
        if (isLost || drawn.isSourceLow || drawn.pipeC < 2 || drawn.levelFraction >= 0.95) {
          expect(isOn(tick, PUMP)).toBe(false);
        }
        const sinceMs = atMs - (before.loads[PUMP]?.changedAtMs ?? atMs);
        const isDry =
          wasOn(tick, PUMP) &&
          before.loads[PUMP]?.isConfirmed === true &&
          sinceMs >= SETTLE_MS &&
          seen?.powerW.quality === "fresh" &&
          drawn.pumpW < 300;
        drySinceMs = isDry ? (drySinceMs ?? atMs) : null;
        if (drySinceMs !== null && atMs - drySinceMs >= DRY_FOR_MS) {
          expect(isOn(tick, PUMP)).toBe(false);
        }
      }
    });
  });

  it("a pump that ran dry rests for half an hour", { timeout: TIMEOUT_MS }, () => {
    holds((ticks) => {
      let restsUntilMs = 0;
      for (const tick of ticks) {
        if (tick.drawn.isCleared) restsUntilMs = 0;
        if (isOn(tick, PUMP)) expect(tick.atMs).toBeGreaterThanOrEqual(restsUntilMs);
        const isDry = tick.decision.verdicts[PUMP]?.code === "pump-dry";
        if (isDry) restsUntilMs = tick.atMs + DRY_REST_MS;
      }
    });
  });

  it("no load starts more often in a day than it may", { timeout: TIMEOUT_MS }, () => {
    holds((ticks) => {
      const starts = new Map<number, number>();
      for (const tick of ticks) {
        if (!isOn(tick, PUMP) || wasOn(tick, PUMP)) continue;
        const { localDay } = tick.observation;
        starts.set(localDay, (starts.get(localDay) ?? 0) + 1);
      }
      for (const count of starts.values()) expect(count).toBeLessThanOrEqual(STARTS_PER_DAY);
    });
  });

  it("sockets are never live over their limit or unseen", { timeout: TIMEOUT_MS }, () => {
    holds((ticks) => {
      for (const tick of ticks) {
        const seen = tick.observation.loads[SOCKETS]?.powerW;
        const isOver = (seen?.value ?? Infinity) > SOCKETS_MAX_W;
        if (seen?.quality !== "fresh" || isOver) expect(isOn(tick, SOCKETS)).toBe(false);
      }
    });
  });

  it(
    "sockets start only on a press that is recent and newer than the last interlock",
    () => {
      holds((ticks) => {
        let pressedAtMs = -Infinity;
        for (const tick of ticks) {
          if (tick.drawn.isPressed) pressedAtMs = tick.atMs;
          if (isOn(tick, SOCKETS) && !wasOn(tick, SOCKETS)) {
            expect(tick.atMs - pressedAtMs).toBeLessThan(REQUEST_MS);
          }
          const code = tick.decision.verdicts[SOCKETS]?.code ?? "";
          const isOpened = wasOn(tick, SOCKETS) && !isOn(tick, SOCKETS);
          const isCalm = /^(stopped-|waiting-request)/.test(code);
          if (isOpened && !isCalm) pressedAtMs = -Infinity;
        }
      });
    },
    TIMEOUT_MS,
  );

  it(
    "sockets warn before they go off, unless an interlock opens them",
    () => {
      holds((ticks) => {
        let warnedAtMs: number | null = null;
        for (const tick of ticks) {
          const code = tick.decision.verdicts[SOCKETS]?.code ?? "";
          if (wasOn(tick, SOCKETS) && !isOn(tick, SOCKETS)) {
            const isCalm = /^(stopped-|waiting-request)/.test(code);
            if (isCalm) {
              expect(warnedAtMs).not.toBeNull();
              expect(tick.atMs - (warnedAtMs ?? tick.atMs)).toBeGreaterThanOrEqual(WARN_MS);
            }
          }
          const isWarning = tick.decision.loadWarnings[SOCKETS] === true;
          warnedAtMs = isWarning ? (warnedAtMs ?? tick.atMs) : null;
          if (isWarning) expect(isOn(tick, SOCKETS)).toBe(true);
        }
      });
    },
    TIMEOUT_MS,
  );

  it(
    "a latched tank, and one over its limit or unseen, is never heated",
    () => {
      holds((ticks) => {
        for (const tick of ticks) {
          const seen = tick.observation.loads[BOILER]?.tankTemperatureC;
          const isCold = seen?.quality === "fresh" && seen.value < 75;
          if (!isCold) expect(isOn(tick, BOILER)).toBe(false);
          const isLatched = tick.before.loads[BOILER]?.latch !== "none";
          if (isLatched && !tick.drawn.isCleared) expect(isOn(tick, BOILER)).toBe(false);
        }
      });
    },
    TIMEOUT_MS,
  );
});
