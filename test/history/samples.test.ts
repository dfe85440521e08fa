import { expect, it } from "vitest";
import { createSampler } from "../../service/history/samples.ts";
import { figuresOf, listIds } from "../../service/history/signal-walk.ts";
import { fresh, lost } from "../control/given.ts";
import { createShed, settings } from "./day-of-ticks.ts";

const MINUTE_MS = 60_000;

function figure(value: number, name = "inverter.powerW") {
  return [{ name, value }];
}

it("gives each minute's least, mean and greatest once the next has begun", () => {
  const sampler = createSampler();
  for (const [index, value] of [100, 300, 200, 200].entries()) {
    const wallMs = 10 * MINUTE_MS + index * 10_000;
    const none = sampler.add({ figures: figure(value), wallMs, monotonicMs: index * 10_000 });
    expect(none).toEqual([]);
  }
  const wallMs = 11 * MINUTE_MS;
  const samples = sampler.add({ figures: figure(5), wallMs, monotonicMs: 60_000 });
  // The first has no time before it that it could stand for: 300, 200 and 200 for ten seconds each.
  const mean = Math.round(((100 * 1 + 700 * 10_000) / 30_001) * 10);
  expect(samples).toEqual([
    {
      minute: 10,
      name: "inverter.powerW",
      perUnit: 10,
      mean,
      below: mean - 1000,
      above: 3000 - mean,
    },
  ]);
  expect(sampler.finish()).toMatchObject([{ minute: 11, mean: 50, below: 0, above: 0 }]);
});

it("does not let a burst of early ticks weigh more than its time", () => {
  const sampler = createSampler();
  let monotonicMs = 0;
  const add = (value: number, afterMs: number) => {
    monotonicMs += afterMs;
    sampler.add({ figures: figure(value), wallMs: monotonicMs, monotonicMs });
  };
  add(0, 10_000);
  add(0, 20_000);
  for (let count = 0; count < 10; count += 1) add(1000, 20);
  const [sample] = sampler.finish();
  expect(sample!.mean / 10).toBeCloseTo((1000 * 200) / 20_201, 0);
  expect(sample!.above + sample!.mean).toBe(10_000);
});

it("keeps a range that holds its mean, with negative and tiny values too", () => {
  const sampler = createSampler();
  for (const [index, value] of [-0.00004, -0.00006, 0.00004].entries()) {
    const figures = figure(value, "battery.socFraction");
    sampler.add({ figures, wallMs: index, monotonicMs: index });
  }
  const [sample] = sampler.finish();
  expect(sample).toMatchObject({ perUnit: 10_000 });
  expect(sample!.below).toBeGreaterThanOrEqual(0);
  expect(sample!.above).toBeGreaterThanOrEqual(0);
});

it("names figures by the ids of the settings, and takes fresh readings alone", () => {
  const tick = createShed().tick();
  const observation = {
    ...tick.observation,
    inverter: { ...tick.observation.inverter, temperatureC: lost(80), isFaulty: fresh(true) },
  };
  const figures = figuresOf({ ...tick, observation }, listIds(settings));
  const byName = new Map(figures.map(({ name, value }) => [name, value]));
  expect(byName.size).toBe(figures.length);
  expect(byName.get("battery.socFraction")).toBe(0.97);
  expect(byName.get("sources.roof.powerW")).toBe(3200);
  expect(byName.get("loads.water-heater.reportedStage")).toBe(0);
  expect(byName.get("inverter.isFaulty")).toBe(1);
  expect(byName.get("decision.loads.spring-pump.stage")).toBe(0);
  expect(byName.get("decision.ruleCurveFraction")).toBe(tick.decision.site.ruleCurveFraction);
  expect(byName.has("inverter.temperatureC")).toBe(false);
  expect(byName.has("battery.temperatureC")).toBe(false);
  expect([...byName.keys()].filter((name) => /\bageMs|wallMs|localDay/.test(name))).toEqual([]);
});

it("takes what a load without a meter draws for what is told of it, and leaves a meter's out", () => {
  const tick = createShed().tick();
  const ids = listIds(settings);
  const drawn = (drawing: "draws" | "rests" | "unknown", powerW = lost(0)) => {
    const loads = tick.memory.loads.map((load) => {
      const thermostat = { ...load.draw.thermostat, drawing };
      return { ...load, draw: { ...load.draw, thermostat } };
    });
    const observation = {
      ...tick.observation,
      loads: tick.observation.loads.map((seen) => ({ ...seen, powerW })),
    };
    const decision = { ...tick.decision, loadPowersW: loads.map(() => 750) };
    const figures = figuresOf({ observation, memory: { ...tick.memory, loads }, decision }, ids);
    return figures.find(({ name }) => name === "decision.loads.spring-pump.drawnW")?.value;
  };
  expect(drawn("draws")).toBe(750);
  expect(drawn("unknown")).toBe(750);
  expect(drawn("rests")).toBe(0);
  expect(drawn("rests", fresh(740))).toBeUndefined();
});
