/** Figures: 100 L and 2 kW make 2000 Wh/h / (1.151 Wh/(L K) × 100 L) = 17.4 K an hour. */
import { describe, expect, it } from "vitest";
import type { LoadSettings } from "../../service/control/settings.ts";
import { fresh, HOUR_MS, load, lost, MINUTE_MS, Run, site, TICK_MS } from "./given.ts";
import type { Scene } from "./given.ts";

const READY_MS = 5 * MINUTE_MS;
const TANK = { surplusC: 68, hysteresisK: 4, limitC: 75, volumeL: 100 };
const HEATER_W = 2000;
const SOUND_K_PER_MIN = 17.4 / 60;

/** A tank that warms by so much a minute while it is heated. */
class Heated extends Run {
  celsius = 30;

  constructor(over: Partial<LoadSettings> = {}) {
    super(site({ loads: [load({ stagesW: [HEATER_W], tank: TANK, ...over })] }));
  }

  get isOn(): boolean {
    return this.stages[0] === 1;
  }

  get latch() {
    return this.memory.loads[0]?.latch;
  }

  get unwarmedTimes() {
    return this.memory.loads[0]?.guard.unwarmedTimes;
  }

  pass(durationMs: number, kelvinPerMinute: number, over: Scene = {}) {
    return this.during(durationMs, () => {
      if (this.isOn) this.celsius += (kelvinPerMinute * TICK_MS) / MINUTE_MS;
      return { loads: this.loads({ tankTemperatureC: fresh(this.celsius) }), ...over };
    });
  }
}

describe("an element that heats little water", () => {
  it("is off at once and latched, within its minimum run", () => {
    const run = new Heated();
    // Allowed in the third minute: 2.5 × 0.58 K + 4 K. It gets 2.8 K a minute.
    run.pass(READY_MS + 2 * MINUTE_MS, 2.8);
    expect(run.isOn).toBe(true);
    const decision = run.pass(TICK_MS, 2.8);
    expect(decision.loadStages).toEqual([0]);
    expect(decision.verdicts[0]?.code).toBe("latched-element");
    run.pass(HOUR_MS, 0);
    expect(run.isOn).toBe(false);
    run.tick({ loads: run.loads({ tankTemperatureC: fresh(30), request: "clear" }) });
    run.celsius = 30;
    run.pass(TICK_MS, 0);
    expect(run.isOn).toBe(true);
  });

  it("is not judged before it has been on for two minutes", () => {
    const run = new Heated();
    run.pass(READY_MS + 2 * MINUTE_MS, 5);
    expect(run.latch).toBe("none");
    run.pass(TICK_MS, 5);
    expect(run.latch).toBe("latched-element");
  });

  it("is found in the middle of a long run too: the reference moves on after an hour", () => {
    const run = new Heated();
    run.pass(READY_MS + HOUR_MS + MINUTE_MS, SOUND_K_PER_MIN);
    expect(run.latch).toBe("none");
    run.pass(6 * MINUTE_MS, 2.8);
    expect(run.latch).toBe("latched-element");
  });

  it("is not taken for one that heats twice as fast as it should", () => {
    const run = new Heated({ tank: { ...TANK, surplusC: 90, limitC: 95 } });
    run.pass(READY_MS + 90 * MINUTE_MS, 2 * SOUND_K_PER_MIN);
    expect(run.latch).toBe("none");
  });

  it("is not seen where the tank's volume is not known", () => {
    const run = new Heated({ tank: { ...TANK, volumeL: null } });
    run.pass(READY_MS + 6 * MINUTE_MS, 5);
    expect(run.latch).toBe("none");
    expect(run.memory.loads[0]?.guard.heating).toBeNull();
  });

  it("is not judged over a time in which nobody looked", () => {
    const run = new Heated();
    run.pass(READY_MS + MINUTE_MS, SOUND_K_PER_MIN);
    run.atMs += 20 * MINUTE_MS;
    run.celsius += 25;
    run.pass(MINUTE_MS, SOUND_K_PER_MIN);
    expect(run.latch).toBe("none");
    expect(run.isOn).toBe(true);
  });

  it("loses its reference with its thermometer", () => {
    const run = new Heated();
    run.pass(READY_MS + MINUTE_MS, SOUND_K_PER_MIN);
    run.tick({ loads: run.loads({ tankTemperatureC: lost(30) }) });
    expect(run.decision?.verdicts[0]?.code).toBe("tank-unknown");
    expect(run.memory.loads[0]?.guard.heating).toBeNull();
  });
});

describe("an element that does not warm its tank", () => {
  /** 10 K are 1151 Wh: 34.5 min at 2 kW, from the reference in the first tick on. */
  const OPEN_MS = 35 * MINUTE_MS;

  it("is stopped when ten kelvin should show and not one does", () => {
    const run = new Heated({ minRunMs: HOUR_MS });
    run.pass(READY_MS + OPEN_MS - MINUTE_MS, 0);
    expect(run.isOn).toBe(true);
    const decision = run.pass(MINUTE_MS, 0);
    expect(decision.loadStages).toEqual([0]);
    expect(run.unwarmedTimes).toBe(1);
    expect(run.latch).toBe("none");
  });

  it("is tried again after half an hour, then after a whole one, and latched the third time", () => {
    const run = new Heated();
    const startsAtMs: number[] = [];
    run.during(5 * HOUR_MS, () => {
      const startedAtMs = run.memory.loads[0]?.startedAtMs ?? null;
      if (startedAtMs !== null && startsAtMs.at(-1) !== startedAtMs) startsAtMs.push(startedAtMs);
      return { loads: run.loads({ tankTemperatureC: fresh(30) }) };
    });
    const [first = 0, second = 0, third = 0] = startsAtMs;
    expect(startsAtMs).toHaveLength(3);
    const waits = [second - first, third - second].map((ms) => Math.round(ms / MINUTE_MS));
    expect(waits).toEqual([35 + 30, 35 + 60]);
    expect(run.latch).toBe("latched-open");
    run.tick({ loads: run.loads({ tankTemperatureC: fresh(30), request: "clear" }) });
    expect(run.unwarmedTimes).toBe(0);
  });

  it("is forgiven once the tank warms by a kelvin", () => {
    const run = new Heated();
    run.pass(READY_MS + OPEN_MS, 0);
    expect(run.unwarmedTimes).toBe(1);
    run.pass(35 * MINUTE_MS, SOUND_K_PER_MIN);
    expect(run.isOn).toBe(true);
    expect(run.unwarmedTimes).toBe(0);
  });

  it("is not taken for one whose water is drawn now and then", () => {
    const run = new Heated();
    for (let draws = 0; draws < 6; draws += 1) {
      run.pass(30 * MINUTE_MS, SOUND_K_PER_MIN);
      run.celsius -= 12;
    }
    expect(run.isOn).toBe(true);
    expect(run.unwarmedTimes).toBe(0);
  });
});
