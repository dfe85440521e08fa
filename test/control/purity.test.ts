/**
 * `step` is a function of its three arguments and nothing else: the daemon, the simulator and a
 * replay must come to the same decisions, and a tick that is looked at twice must not count twice.
 */
import { afterEach, describe, expect, it, vi } from "vitest";
import type { Memory } from "../../service/control/memory.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { Observation } from "../../service/control/observation.ts";
import type { ControlSettings } from "../../service/control/settings.ts";
import type { StepResult } from "../../service/control/step.ts";
import { step } from "../../service/control/step.ts";
import {
  floodedBattery,
  fresh,
  load,
  loadObservation,
  lost,
  MINUTE_MS,
  observe,
  panel,
  panelObservation,
  site,
  TICK_MS,
} from "./given.ts";
import type { Scene } from "./given.ts";

const settings: ControlSettings = deepFreeze(
  site({
    battery: floodedBattery({ fullChargeEveryDays: 3 }),
    panels: [panel()],
    loads: [
      load({
        id: "tank",
        stagesW: [1000],
        tank: { surplusC: 60, hysteresisK: 4, limitC: 75, volumeL: null },
      }),
      load({ id: "pump", stagesW: [750], panelIndex: 0, hasMeter: true, startsPerHourMax: 4 }),
    ],
  }),
);

/** Two hours in which everything happens once: starts, a cloud, a hot tank, silence, a late clock. */
const SCENES: readonly Scene[] = [
  ...many(400, {}),
  ...many(30, { socFraction: 0.93, currentA: -20 }),
  ...many(10, { over: { isWallClockPlausible: false } }),
  ...many(5, { battery: { socFraction: lost(0.9), temperatureC: fresh(12) } }),
  ...many(5, { voltageV: 47 }),
  ...many(90, { voltageV: 60.5, currentA: 3 }),
  ...many(60, { battery: { chargeStage: fresh("float" as const) } }),
  ...many(10, { over: { isBrokerConnected: false } }),
  ...many(120, {}),
];

function many(times: number, scene: Scene): Scene[] {
  return new Array<Scene>(times).fill(scene);
}

function deepFreeze<T>(value: T): T {
  if (typeof value === "object" && value !== null && !Object.isFrozen(value)) {
    Object.freeze(value);
    Object.values(value).forEach(deepFreeze);
  }
  return value;
}

function observationAt(place: number, memory: Memory, scene: Scene): Observation {
  const tankC = 40 + (place % 300) / 8;
  const loads = memory.loads.map((remembered, index) =>
    loadObservation({
      reportedStage: fresh(remembered.stage),
      powerW: fresh(remembered.stage * 750),
      tankTemperatureC: fresh(tankC),
      request: place % 50 === index ? "clear" : "none",
    }),
  );
  const panels = memory.panels.map(({ isClosed }) =>
    panelObservation({ isClosed: fresh(isClosed) }),
  );
  return observe(settings, (place + 1) * TICK_MS, { loads, panels, ...scene });
}

/** Runs the scenes; `look` sees each tick's frozen inputs before the next one is made. */
function runScenes(look: (memory: Memory, observation: Observation) => StepResult): StepResult[] {
  let memory = deepFreeze(initialMemory(settings, 0));
  return SCENES.map((scene, place) => {
    const result = look(memory, deepFreeze(observationAt(place, memory, scene)));
    memory = deepFreeze(result.memory);
    return result;
  });
}

/** What a function without effects can't need. Each throws while a step is being taken. */
const FORBIDDEN: readonly (readonly [object, string])[] = [
  [Date, "now"],
  [Math, "random"],
  [Math, "pow"],
  [performance, "now"],
  [globalThis, "setTimeout"],
  [globalThis, "setInterval"],
  [globalThis, "setImmediate"],
  [globalThis, "queueMicrotask"],
  [globalThis, "fetch"],
  [crypto, "getRandomValues"],
  [crypto, "randomUUID"],
  [process, "hrtime"],
  [process, "nextTick"],
  [process.stdout, "write"],
  [process.stderr, "write"],
  ...(["log", "info", "warn", "error", "debug", "trace"] as const).map(
    (name) => [console, name] as const,
  ),
];

function forbid(): string[] {
  const called: string[] = [];
  for (const [owner, name] of FORBIDDEN) {
    vi.spyOn(owner as Record<string, () => unknown>, name).mockImplementation(() => {
      called.push(name);
      throw new Error(`${name} was called while stepping`);
    });
  }
  const realDate = Date;
  vi.stubGlobal(
    "Date",
    // The sun's package wraps given instants in a `Date`; one made of nothing reads the clock.
    new Proxy(realDate, {
      construct(target, given: readonly unknown[]) {
        if (given.length > 0) return Reflect.construct(target, given);
        called.push("new Date");
        throw new Error("new Date was called while stepping");
      },
    }),
  );
  return called;
}

function allow(): void {
  vi.unstubAllGlobals();
  vi.restoreAllMocks();
}

afterEach(allow);

describe("step", () => {
  it("does in these scenes what a day does: starts, stops, interlocks, every charge stage", () => {
    const results = runScenes((memory, observation) => step(memory, observation, settings));
    const changes = results.flatMap(({ decision }) => decision.events.map(({ change }) => change));
    for (const change of ["started", "stopped", "raised", "cleared", "closed", "opened"] as const) {
      expect(changes).toContain(change);
    }
    const stages = new Set(results.map(({ decision }) => decision.site.chargeStage));
    expect([...stages].sort()).toEqual(["absorption", "bulk", "float"]);
  });

  it("gives the same answer to the same frozen inputs, and leaves them as they were", () => {
    runScenes((memory, observation) => {
      const before = JSON.stringify([memory, observation, settings]);
      const first = step(memory, observation, settings);
      const second = step(memory, observation, settings);
      expect(second).toEqual(first);
      expect(JSON.stringify([memory, observation, settings])).toBe(before);
      return first;
    });
  });

  it("asks no clock, rolls no dice, says nothing and puts nothing off", () => {
    const expected = runScenes((memory, observation) => step(memory, observation, settings));
    const called = forbid();
    let results: StepResult[];
    try {
      results = runScenes((memory, observation) => step(memory, observation, settings));
    } finally {
      allow();
    }
    expect(called).toEqual([]);
    expect(results).toEqual(expected);
  });

  it("would be caught if it did", () => {
    const called = forbid();
    const messages: string[] = [];
    for (const impure of [() => Date.now(), () => new Date(), () => Math.random()]) {
      try {
        impure();
      } catch (error) {
        messages.push(String(error));
      }
    }
    allow();
    expect(called).toEqual(["now", "new Date", "random"]);
    expect(messages).toHaveLength(3);
  });

  it("refuses lists that do not fit the settings: a programmer's error, never data", () => {
    const memory = initialMemory(settings, 0);
    const observation = observe(settings, MINUTE_MS);
    const wrong: readonly (readonly [Memory, Observation, string])[] = [
      [{ ...memory, loads: [] }, observation, "memory must have every load"],
      [{ ...memory, panels: [] }, observation, "memory must have every panel"],
      [memory, { ...observation, loads: [] }, "every load must be observed"],
      [memory, { ...observation, panels: [] }, "every panel must be observed"],
      [memory, { ...observation, sources: [] }, "every source is observed"],
    ];
    for (const [remembered, observed, message] of wrong) {
      expect(() => step(remembered, observed, settings)).toThrow(message);
    }
  });
});
