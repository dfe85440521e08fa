/**
 * Random sites with loads of every kind against a small closed plant: an array that gives what is
 * asked of it up to its potential, a battery that accepts a little at its set-point, readings that
 * come at their own pace, and faults. What must hold is checked against the plant, not against what
 * the core was told.
 */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { carryOver } from "../../service/control/carry-over.ts";
import type { Decision } from "../../service/control/decision.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { Memory } from "../../service/control/memory.ts";
import type { Reading } from "../../service/control/observation.ts";
import type { ControlSettings, LoadSettings } from "../../service/control/settings.ts";
import { step } from "../../service/control/step.ts";
import { VERDICT_CODES } from "../../service/control/verdict-codes.ts";
import type { CodeEntry } from "../../service/control/code-entry.ts";
import { fresh, HOUR_MS, load, loadObservation, MINUTE_MS, observe, panel } from "./given.ts";
import { panelObservation, site, unmapped } from "./given.ts";

const SEED = 20261125;
const RUNS = Number(process.env["BYWASH_PROPERTY_RUNS"] ?? 300) / 10;
const EFFICIENCY = 0.92;
const BASE_W = 300;
const TICKS_MS = [1_000, 2_000, 10_000, 60_000];
const EVERY_MS = [0, 5_000, 30_000, 55_000];

type Fault = "none" | "current" | "inverter" | "broker" | "report" | "gap" | "reload" | "generator";
const FAULTS: readonly Fault[] = ["current", "inverter", "broker", "report", "gap", "reload"];

const kinds: fc.Arbitrary<Partial<LoadSettings>> = fc.oneof(
  fc.record({ stagesW: fc.constantFrom([750], [1500], [2500], [500, 1000, 2000]) }),
  fc.constant({
    stagesW: [200],
    isTolerant: true,
    modulating: { minW: 200, maxW: 3000, stepW: 10, riseWPerS: 20 },
  }),
  fc.constant({ stagesW: [750], powerFactor: 0.6, startPowerVA: 4000, startPowerMs: 2_000 }),
);

const loadsOf: fc.Arbitrary<readonly LoadSettings[]> = fc
  .array(
    fc.tuple(
      kinds,
      fc.record({
        priority: fc.constantFrom(1, 2, 3),
        minRunMs: fc.constantFrom(0, 5 * MINUTE_MS, 20 * MINUTE_MS),
        minRestMs: fc.constantFrom(MINUTE_MS, 5 * MINUTE_MS),
        settleMs: fc.constantFrom(10_000, 40_000),
        hasMeter: fc.boolean(),
        startsPerHourMax: fc.constantFrom(null, 3),
        panelIndex: fc.constantFrom(null, 0),
        legIndex: fc.constantFrom(null, 0, 1),
        isTolerant: fc.boolean(),
      }),
    ),
    { minLength: 1, maxLength: 4 },
  )
  .map((drawn) =>
    drawn.map(([kind, rest], index) => load({ ...rest, ...kind, id: `load-${String(index)}` })),
  );

interface Case {
  readonly loads: readonly LoadSettings[];
  readonly tickMs: number;
  readonly everyMs: number;
  readonly potentialsW: readonly number[];
  readonly continuousW: number;
  readonly startFraction: number;
  readonly fault: Fault;
}

const cases = (faults: readonly Fault[]): fc.Arbitrary<Case> =>
  fc.record({
    loads: loadsOf,
    tickMs: fc.constantFrom(...TICKS_MS),
    everyMs: fc.constantFrom(...EVERY_MS),
    potentialsW: fc.array(fc.integer({ min: 200, max: 8000 }), { minLength: 2, maxLength: 6 }),
    continuousW: fc.constantFrom(3000, 5000, 8000),
    startFraction: fc.constantFrom(0.93, 0.95, 0.97, 0.995),
    fault: fc.constantFrom(...faults),
  });

function settingsOf({ loads, tickMs, continuousW }: Case): ControlSettings {
  const legs = ["L1", "L2"].map((id) => ({ id, continuousVA: 0.7 * continuousW }));
  return site({
    tickMs,
    loads,
    panels: [panel({ feederMaxW: 2600 })],
    inverter: { ...site().inverter, continuousW, continuousVA: continuousW, legs },
  });
}

interface Tick {
  readonly atMs: number;
  readonly before: Memory;
  readonly decision: Decision;
  readonly trueW: number;
  readonly legsW: readonly number[];
  readonly isFaulty: boolean;
}

/** What the loads draw: what they were told, as none is broken. [W] */
function drawnOnLegsW(memory: Memory, settings: ControlSettings): readonly number[] {
  return [0, 1].map((leg) =>
    memory.loads.reduce((sumW, { powerW }, index) => {
      const own = settings.loads[index]?.legIndex ?? null;
      return sumW + (own === null ? powerW / 2 : own === leg ? powerW : 0);
    }, BASE_W / 2),
  );
}

/** Four hours from noon. */
function run(drawn: Case): Tick[] {
  const settings = settingsOf(drawn);
  const ticks: Tick[] = [];
  let memory = initialMemory(settings, 0);
  let { startFraction: socFraction } = drawn;
  let told: { atMs: number; currentA: number; inverterW: number; legsW: readonly number[] } | null =
    null;
  const endMs = drawn.tickMs < 10_000 ? HOUR_MS : 4 * HOUR_MS;
  for (let atMs = drawn.tickMs; atMs <= endMs; atMs += drawn.tickMs) {
    const share = atMs / (endMs + 1);
    const potentialW = drawn.potentialsW[Math.floor(share * drawn.potentialsW.length)] ?? 0;
    const legsW = drawnOnLegsW(memory, settings);
    const inverterW = (legsW[0] ?? 0) + (legsW[1] ?? 0);
    const acceptsW = socFraction > 0.99 ? 100 : 4000;
    const askedW = inverterW / EFFICIENCY + acceptsW;
    const arrayW = Math.min(potentialW, askedW);
    const batteryW = acceptsW - (askedW - arrayW);
    const voltageV = arrayW >= askedW ? 56 : 54;
    socFraction = Math.min(1, socFraction + (batteryW * drawn.tickMs) / HOUR_MS / 20_480);
    const isFaulty = drawn.fault !== "none" && share > 0.5 && share < 0.6;
    const now = { atMs, currentA: batteryW / voltageV, inverterW, legsW };
    // A meter that is stuck goes on sending what it last showed.
    const isStuck = isFaulty && drawn.fault === "current";
    if (told === null || (atMs - told.atMs >= drawn.everyMs && !isStuck)) told = now;
    const ageMs = isStuck ? 0 : atMs - told.atMs;
    if (isFaulty && drawn.fault === "gap") continue;
    if (isFaulty && drawn.fault === "reload") {
      const kept = {
        loads: new Set(settings.loads.map(({ id }) => id)),
        panels: new Set(["surplus"]),
      };
      memory = carryOver(memory, settings, { kept, nowMs: atMs });
    }
    const isLost = isFaulty && drawn.fault === "inverter";
    const inverterRead: Reading = isLost
      ? { value: 0, quality: "stale", ageMs: 600_000 }
      : fresh(told.inverterW, ageMs);
    const observation = observe(settings, atMs, {
      socFraction,
      voltageV,
      arrayW,
      battery: { currentA: fresh(told.currentA, ageMs) },
      inverter: {
        powerW: inverterRead,
        legPowersW: told.legsW.map((watts) => fresh(watts, ageMs)),
      },
      loads: memory.loads.map(({ stage, powerW }, index) =>
        loadObservation({
          reportedStage: fresh(isFaulty && drawn.fault === "report" ? 0 : stage),
          powerW: settings.loads[index]?.hasMeter === true ? fresh(powerW) : unmapped,
        }),
      ),
      panels: memory.panels.map(({ isClosed }) => panelObservation({ isClosed: fresh(isClosed) })),
      over: {
        isBrokerConnected: !(isFaulty && drawn.fault === "broker"),
        isGeneratorRunning: fresh(isFaulty && drawn.fault === "generator"),
      },
    });
    const before = memory;
    const result = step(before, observation, settings);
    memory = result.memory;
    const { decision } = result;
    ticks.push({ atMs, before, decision, trueW: inverterW, legsW, isFaulty });
  }
  return ticks;
}

function holds(
  faults: readonly Fault[],
  check: (ticks: readonly Tick[], drawn: Case) => void,
): void {
  fc.assert(
    fc.property(cases(faults), (drawn) => {
      check(run(drawn), drawn);
    }),
    { seed: SEED, numRuns: RUNS },
  );
}

/** An interlock, or a load that was seen to draw nothing. */
function mayBreakMinRun(tick: Tick, index: number): boolean {
  const code = tick.decision.verdicts[index]?.code ?? "running";
  const entry: CodeEntry = VERDICT_CODES[code];
  return entry.isInterlock || code.startsWith("idle-");
}

const ALL_FAULTS: readonly Fault[] = [...FAULTS, "none", "generator"];

describe("any site against a closed plant", () => {
  it("is never brought over the inverter's or a leg's rating by its own loads", () => {
    let starts = 0;
    holds(["none", "reload", "report", "gap"], (ticks, { continuousW }) => {
      let mostW = 0;
      let mostOnLegW = 0;
      for (const { trueW, legsW, decision } of ticks) {
        mostW = Math.max(mostW, trueW);
        mostOnLegW = Math.max(mostOnLegW, ...legsW);
        starts += decision.events.filter(({ change }) => change === "started").length;
      }
      expect(mostW).toBeLessThanOrEqual(continuousW);
      expect(mostOnLegW).toBeLessThanOrEqual(0.7 * continuousW);
    });
    expect(starts).toBeGreaterThan(RUNS);
  });

  it("is all off while a meter that it needs, or the broker, is lost, or the generator runs", () => {
    holds(["inverter", "broker", "generator"], (ticks) => {
      for (const { isFaulty, decision } of ticks) {
        if (isFaulty) expect(Math.max(...decision.loadStages)).toBe(0);
      }
    });
  });

  it("keeps minimum runs, rests and starts per hour, whatever happens", () => {
    holds(ALL_FAULTS, (ticks, { loads }) => {
      for (const [index, settings] of loads.entries()) {
        const startsAtMs: number[] = [];
        let stoppedAtMs = 0;
        for (const tick of ticks) {
          const was = tick.before.loads[index]?.stage ?? 0;
          const is = tick.decision.loadStages[index] ?? 0;
          if (was === 0 && is > 0) {
            expect(tick.atMs - stoppedAtMs).toBeGreaterThanOrEqual(settings.minRestMs);
            startsAtMs.push(tick.atMs);
            const recent = startsAtMs.filter((startMs) => tick.atMs - startMs < HOUR_MS);
            const most = settings.startsPerHourMax ?? HOUR_MS / settings.minRestMs;
            expect(recent.length).toBeLessThanOrEqual(most);
          }
          if (was > 0 && is === 0) {
            stoppedAtMs = tick.atMs;
            const ranMs = tick.atMs - (startsAtMs.at(-1) ?? 0);
            if (ranMs < settings.minRunMs) expect(mayBreakMinRun(tick, index)).toBe(true);
          }
        }
      }
    });
  });

  it("starts nothing under a start mark", () => {
    holds(ALL_FAULTS, (ticks, { loads }) => {
      for (const { before, decision } of ticks) {
        for (const [index, stage] of decision.loadStages.entries()) {
          if (stage <= (before.loads[index]?.stage ?? 0)) continue;
          const markFraction = loads[index]?.startAboveFraction ?? 1;
          expect(decision.site.bandFraction).toBeGreaterThanOrEqual(markFraction);
        }
      }
    });
  });

  it("sets powers only within their limits and to steps that the device can make", () => {
    holds(ALL_FAULTS, (ticks, { loads }) => {
      for (const { decision } of ticks) {
        for (const [index, powerW] of decision.loadPowersW.entries()) {
          const limits = loads[index]?.modulating ?? null;
          if (limits === null || powerW === 0) continue;
          const steps = (powerW - limits.minW) / limits.stepW;
          expect(steps).toBeCloseTo(Math.round(steps), 6);
          expect(powerW).toBeGreaterThanOrEqual(limits.minW);
          expect(powerW).toBeLessThanOrEqual(limits.maxW);
        }
      }
    });
  });

  it("full, and under a strong sun, serves somebody, and starts nobody over 4 times an hour", () => {
    fc.assert(
      fc.property(cases(["none"]), (drawn) => {
        const sunny = { ...drawn, potentialsW: [9000], startFraction: 0.995, continuousW: 8000 };
        const ticks = run(sunny);
        const last = ticks.at(-1);
        const isLimited = drawn.loads.some(({ startsPerHourMax }) => startsPerHourMax !== null);
        if (!isLimited || drawn.tickMs >= 10_000) {
          expect(last?.decision.loadStages.some((stage) => stage > 0)).toBe(true);
        }
        for (const index of drawn.loads.keys()) {
          const starts = ticks.filter(
            ({ before, decision }) =>
              before.loads[index]?.stage === 0 && (decision.loadStages[index] ?? 0) > 0,
          );
          expect(starts.length).toBeLessThanOrEqual(drawn.tickMs < 10_000 ? 4 : 16);
        }
      }),
      { seed: SEED, numRuns: RUNS },
    );
  });
});
