import { createHash } from "node:crypto";
import { expect, test } from "vitest";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { step } from "../../service/control/step.ts";
import type { Step } from "../../service/control/step.ts";
import { createObserver } from "../../simulator/observe.ts";
import { createPlant } from "../../simulator/plant/plant.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import { replay } from "../../simulator/replay.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { simulatedSite } from "./simulated-site.ts";

const CLOCKS = { clockChangeMs: 0, clockShiftMin: 0 };

test("a perfect set of meters tells what is so, in the order of the settings", () => {
  const site = simulatedSite();
  const plant = createPlant(plantSettings(site), 0.8);
  plant.step(60, {
    arrayPotentialW: Float64Array.of(4000),
    windPotentialW: new Float64Array(0),
    irradianceWm2: NaN,
    baseAcW: 500,
    batteryTemperatureC: 12,
    localMinute: 720,
    isGeneratorCalled: false,
    loadStages: [1, 1],
    loadPowersW: [1000, 750],
    panelsClosed: [],
  });
  const at = { monotonicMs: 60_000, wallMs: 1e12, localDay: 11_574, localMinute: 720, ...CLOCKS };
  const seen = createObserver(site, plant.truth)(at);
  expect(seen).toMatchObject(at);
  expect(seen.battery.socFraction).toEqual({
    value: plant.truth.socFraction,
    quality: "fresh",
    ageMs: 0,
  });
  expect(seen.battery.temperatureC.value).toBe(12);
  expect(seen.sources[0]?.powerW.value).toBeCloseTo(4000, 6);
  expect(seen.inverter.powerW.value).toBe(500 + 1000 + 750);
  expect(seen.loads.map((load) => load.reportedStage.value)).toEqual([1, 1]);
  expect(seen.loads.map((load) => load.powerW.value)).toEqual([1000, 750]);
  expect(seen.loads[0]?.tankTemperatureC.quality).toBe("fresh");
  expect(seen.loads[1]?.tankTemperatureC.quality).toBe("unmapped");
});

test("a load without report, meter or by-hand input does not grow them", () => {
  const site = simulatedSite();
  const loads = site.control.loads.map((load) => ({ ...load, hasReport: false, hasMeter: false }));
  const bare = { ...site, control: { ...site.control, loads } };
  const plant = createPlant(plantSettings(bare), 0.8);
  const at = { monotonicMs: 0, wallMs: 0, localDay: 0, localMinute: 0, ...CLOCKS };
  for (const load of createObserver(bare, plant.truth)(at).loads) {
    expect(load.reportedStage.quality).toBe("unmapped");
    expect(load.powerW.quality).toBe("unmapped");
    expect(load.isByHand.quality).toBe("unmapped");
  }
});

test("the observation is filled again, and nothing of it stays in the core's memory", () => {
  const site = simulatedSite();
  const kinds = ["clear", "broken", "overcast", "broken"] as const;
  const stream = (tick: Step): string => {
    const days = kinds.map((kind, i) =>
      syntheticDay({ site, localDate: `2026-04-1${i}`, seed: 40 + i, kind }),
    );
    const decisions = createHash("sha256");
    const report = replay({
      site,
      days,
      step: tick,
      calendar: createLocalCalendar(site.timeZone),
      stepS: 60,
      startFraction: 0.8,
      mayBridge: false,
      plant: null,
      onDecision: (decision) => decisions.update(JSON.stringify(decision)),
    });
    expect(report.totals.starts).toBeGreaterThan(0);
    return `${decisions.digest("hex")} ${JSON.stringify(report)}`;
  };
  // What has been through a copy can share nothing with the simulator.
  const apart: Step = (memory, observation, settings) =>
    step(structuredClone(memory), structuredClone(observation), settings);
  expect(stream(step)).toBe(stream(apart));
});
