/** What a person has forgotten is gone at that tick, and nothing else is. */
import { describe, expect, it } from "vitest";
import { initialMemory } from "../../service/control/memory.ts";
import type { Memory } from "../../service/control/memory.ts";
import type { Unlearn } from "../../service/control/observation.ts";
import { unlearned } from "../../service/control/unlearn.ts";
import { step } from "../../service/control/step.ts";
import { fresh, HOUR_MS, load, loadObservation, observe, Run, site } from "./given.ts";

const settings = site({
  loads: [load({ stagesW: [1000], hasMeter: true }), load({ id: "pump", stagesW: [700] })],
  sources: [
    { id: "roof", kind: "array", peakW: 6600, tiltDeg: 38, azimuthDeg: 172, currentLimitA: null },
    { id: "barn", kind: "array", peakW: 2000, tiltDeg: 38, azimuthDeg: 90, currentLimitA: null },
    { id: "stream", kind: "hydro", peakW: 500 },
  ],
});

/** Ten hours of a real run: something of everything is learned. */
function learnedMemory(): Memory {
  const run = new Run(settings);
  run.during(4 * HOUR_MS, () => ({
    arrayW: 1500,
    currentA: 20,
    inverterW: 300 + (run.stages[0] ?? 0) * 900,
    loads: [
      loadObservation({
        reportedStage: fresh(run.stages[0] ?? 0),
        powerW: fresh((run.stages[0] ?? 0) * 900),
      }),
      loadObservation({ reportedStage: fresh(run.stages[1] ?? 0) }),
    ],
  }));
  return run.memory;
}

const before = learnedMemory();
const blank = initialMemory(settings, 0);

describe("what was learned", () => {
  it("is there to be forgotten", () => {
    const { responses, sky } = before.potential;
    expect(responses[0]?.cells).not.toStrictEqual(blank.potential.responses[0]?.cells);
    expect(responses[0]?.plane).not.toStrictEqual(blank.potential.responses[0]?.plane);
    expect(responses[1]?.cells).not.toStrictEqual(blank.potential.responses[1]?.cells);
    expect(sky.clearness).not.toBeNull();
    expect(before.outlook.base.seen).toContain(1);
    expect(before.outlook.sky.today).not.toBeNull();
    expect(before.loads[0]?.draw.learnedW).toEqual([expect.closeTo(900, 0)]);
  });

  it("of one array is gone, that of another stays", () => {
    const { potential, ...rest } = unlearned(before, "array.roof", settings);
    const { potential: had, ...others } = before;
    expect(potential.responses[0]).toStrictEqual(blank.potential.responses[0]);
    expect(potential.responses[1]).toBe(had.responses[1]);
    expect(potential.slot).toBeNull();
    expect(potential.sky).toBe(had.sky);
    expect(rest).toStrictEqual(others);
  });

  it("of everyday use is gone, and with it the plan that rested on it", () => {
    const { outlook, ...rest } = unlearned(before, "base", settings);
    const { outlook: had, ...others } = before;
    expect(outlook.base).toStrictEqual(blank.outlook.base);
    expect(outlook).toMatchObject({ hour: null, plan: null });
    expect(outlook.sky).toBe(had.sky);
    expect(rest).toStrictEqual(others);
  });

  it("of the sky is gone, the arrays' own stays", () => {
    const { potential, outlook } = unlearned(before, "sky", settings);
    expect(potential.sky).toStrictEqual(blank.potential.sky);
    expect(outlook.sky).toStrictEqual(blank.outlook.sky);
    expect(outlook.plan).toBeNull();
    expect(potential.responses).toBe(before.potential.responses);
    expect(outlook.base).toBe(before.outlook.base);
  });

  it("of the battery is gone, with the charge under way", () => {
    const lossy = { ...before, battery: { ...before.battery, lossFactor: 0.8, lostFraction: 0.1 } };
    expect(unlearned(lossy, "battery", settings)).toStrictEqual({
      ...lossy,
      battery: { ...lossy.battery, lossFactor: 1, lostFraction: null },
    });
  });

  it("of one load is gone, and it runs on", () => {
    const after = unlearned(before, "load.heater", settings);
    const { draw, ...rest } = after.loads[0] ?? { draw: null };
    const { draw: had, ...others } = before.loads[0] ?? { draw: null };
    expect(draw).toStrictEqual({ ...had, learnedW: [null], stepsW: [[]], idleTimes: 0 });
    expect(rest).toStrictEqual(others);
    expect(after.loads[1]).toBe(before.loads[1]);
  });

  it.each<Exclude<Unlearn, "none">>(["array.shed", "load.oven", "array.heater", "load.roof"])(
    "stays where the site has no %s",
    (what) => {
      expect(unlearned(before, what, settings)).toBe(before);
    },
  );

  it("goes at the tick that says so, and only then", () => {
    const atMs = (before.lastTickMs ?? 0) + 10_000;
    const kept = step(before, observe(settings, atMs, { arrayW: 1500 }), settings).memory;
    expect(kept.potential.responses[0]?.cells).toBe(before.potential.responses[0]?.cells);
    const over = { unlearn: "array.roof" } as const;
    const gone = step(before, observe(settings, atMs, { arrayW: 1500, over }), settings).memory;
    expect(gone.potential.responses[0]).toStrictEqual(blank.potential.responses[0]);
  });
});
