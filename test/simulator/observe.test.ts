import { expect, test } from "vitest";
import { createObserver } from "../../simulator/observe.ts";
import { createPlant } from "../../simulator/plant/plant.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import { simulatedSite } from "./simulated-site.ts";

test("a perfect set of meters tells what is so, in the order of the settings", () => {
  const site = simulatedSite();
  const plant = createPlant(plantSettings(site), 0.8);
  plant.step(60, {
    arrayPotentialW: Float64Array.of(4000),
    baseAcW: 500,
    batteryTemperatureC: 12,
    localMinute: 720,
    isGeneratorCalled: false,
    loadStages: [1, 1],
    loadPowersW: [1000, 750],
    panelsClosed: [],
  });
  const at = { monotonicMs: 60_000, wallMs: 1e12, localDay: 11_574, localMinute: 720 };
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
  const at = { monotonicMs: 0, wallMs: 0, localDay: 0, localMinute: 0 };
  for (const load of createObserver(bare, plant.truth)(at).loads) {
    expect(load.reportedStage.quality).toBe("unmapped");
    expect(load.powerW.quality).toBe("unmapped");
    expect(load.isByHand.quality).toBe("unmapped");
  }
});
