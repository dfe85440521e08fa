import fc from "fast-check";
import { expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import { createPlant } from "../../simulator/plant/plant.ts";
import type { Plant, PlantInput } from "../../simulator/plant/plant.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import { simulatedSite } from "./simulated-site.ts";

const SETTINGS = plantSettings(simulatedSite());
const TASMANIA = plantSettings(
  loadSite({ path: new URL("../../config/examples/tasmania.yaml", import.meta.url).pathname }),
);

function input(
  changes: Partial<PlantInput> & { readonly sunW?: number; readonly windW?: number },
): PlantInput {
  return {
    arrayPotentialW: Float64Array.of(changes.sunW ?? 0),
    windPotentialW: Float64Array.of(changes.windW ?? 0),
    irradianceWm2: NaN,
    baseAcW: 300,
    batteryTemperatureC: 15,
    localMinute: 720,
    isGeneratorCalled: false,
    loadStages: [0, 0],
    loadPowersW: [],
    panelsClosed: [],
    ...changes,
  };
}

/**
 * Energy book of one step, from the battery's stored energy (the integral of its curve) and the
 * losses (integrals of current squared): neither is used to solve the bus.
 */
function imbalance(plant: Plant, dtS: number, given: PlantInput): number {
  const beforeWh = plant.storedWh();
  plant.step(dtS, given);
  const { truth } = plant;
  const hours = dtS / 3600;
  const inWh = (truth.deliveredW + truth.generatorW) * hours;
  const outWh = (truth.inverterAcW + truth.inverterLossW + truth.batteryLossW) * hours;
  const storedWh = plant.storedWh() - beforeWh;
  // Stored energy is a small difference of large numbers: its own rounding sets the scale.
  const scaleWh = Math.max(inWh, outWh, plant.storedWh() * 1e-4, 1e-3);
  return Math.abs(inWh - outWh - storedWh) / scaleWh;
}

const stepInput = fc.record({
  sunW: fc.oneof(fc.constantFrom(0, 1, 6600), fc.double({ min: 0, max: 7000, noNaN: true })),
  baseAcW: fc.oneof(fc.constantFrom(0, 8000), fc.double({ min: 0, max: 6000, noNaN: true })),
  batteryTemperatureC: fc.constantFrom(-5, -0.01, 0, 4.99, 5, 15, 30),
  heater: fc.constantFrom(0, 1, 2),
  pump: fc.constantFrom(0, 1),
  localMinute: fc.integer({ min: 0, max: 1439 }),
});

test("the energy book closes to 1e-9 in every step, whatever sun, loads and charge", () => {
  let steps = 0;
  const start = fc.oneof(
    fc.constantFrom(0, 0.003, 0.02, 0.9935, 0.999, 1),
    fc.double({ min: 0, max: 1, noNaN: true }),
  );
  const dt = fc.constantFrom(1, 2, 10, 60);
  fc.assert(
    fc.property(
      start,
      dt,
      fc.array(stepInput, { minLength: 5, maxLength: 60 }),
      (soc, dtS, all) => {
        const plant = createPlant(SETTINGS, soc);
        for (const { heater, pump, ...rest } of all) {
          const off = imbalance(plant, dtS, input({ ...rest, loadStages: [heater, pump] }));
          expect(off).toBeLessThan(1e-9);
          expect(plant.truth.batteryLossW).toBeGreaterThanOrEqual(0);
          expect(plant.truth.socFraction).toBeGreaterThanOrEqual(0);
          expect(plant.truth.socFraction).toBeLessThanOrEqual(1);
          expect(plant.truth.deliveredW).toBeGreaterThanOrEqual(-1e-6);
          expect(plant.truth.deliveredW).toBeLessThanOrEqual(plant.truth.potentialW + 1e-6);
          steps += 1;
        }
      },
    ),
    { seed: 20120517, numRuns: 300 },
  );
  expect(steps).toBeGreaterThan(3000);
});

test("a full battery throttles the array to what loads take and it accepts", () => {
  const plant = createPlant(SETTINGS, 0.99);
  for (let i = 0; i < 240; i += 1) plant.step(60, input({ sunW: 6000 }));
  const { truth } = plant;
  expect(truth.chargeStage).toBe("float");
  expect(truth.deliveredW).toBeLessThan(1000);
  expect(truth.potentialW).toBe(6000);
  const withoutW = truth.deliveredW;
  // A load of 2 kW is carried by the sun that was held back: the battery does not notice.
  plant.step(60, input({ sunW: 6000, loadStages: [2, 0] }));
  expect(truth.deliveredW - withoutW).toBeGreaterThan(2000);
  expect(truth.batteryPowerW).toBeGreaterThan(-50);
});

test("charge is refused below 0 °C and taken again above 5 °C", () => {
  const plant = createPlant(SETTINGS, 0.5);
  plant.step(60, input({ sunW: 5000, batteryTemperatureC: -0.1 }));
  expect(plant.truth.isChargeBlocked).toBe(true);
  expect(plant.truth.batteryCurrentA).toBeLessThanOrEqual(0);
  expect(plant.truth.batteryCurrentA).toBeGreaterThan(-1e-6);
  plant.step(60, input({ sunW: 5000, batteryTemperatureC: 4.9 }));
  expect(plant.truth.isChargeBlocked).toBe(true);
  plant.step(60, input({ sunW: 5000, batteryTemperatureC: 5 }));
  expect(plant.truth.batteryCurrentA).toBeGreaterThan(50);
});

test("an empty battery leaves everyday use unserved, and recovers with the sun", () => {
  const plant = createPlant(SETTINGS, 0.02);
  for (let i = 0; i < 300; i += 1) plant.step(60, input({ baseAcW: 2000, loadStages: [2, 0] }));
  expect(plant.truth.isInverterOn).toBe(false);
  expect(plant.truth.unservedW).toBe(2000);
  expect(plant.truth.loadPowerW[0]).toBe(0);
  for (let i = 0; i < 300; i += 1) plant.step(60, input({ sunW: 4000, baseAcW: 500 }));
  expect(plant.truth.isInverterOn).toBe(true);
  expect(plant.truth.unservedW).toBe(0);
});

test("too much on the inverter trips it, with its fault flag", () => {
  const plant = createPlant(SETTINGS, 0.9);
  for (let i = 0; i < 3; i += 1) plant.step(60, input({ baseAcW: 8500 }));
  expect(plant.truth.isInverterFaulty).toBe(true);
  expect(plant.truth.inverterAcW).toBe(0);
  for (let i = 0; i < 3; i += 1) plant.step(60, input({ baseAcW: 500 }));
  expect(plant.truth.isInverterFaulty).toBe(false);
  expect(plant.truth.inverterAcW).toBe(500);
});

test("a controller's current limit caps its array", () => {
  const site = simulatedSite();
  const [array] = SETTINGS.arrays;
  if (array === undefined) throw new Error("the test site has one array");
  const settings = { ...plantSettings(site), arrays: [{ ...array, currentLimitA: 60 }] };
  const plant = createPlant(settings, 0.5);
  plant.step(60, input({ sunW: 6000 }));
  plant.step(60, input({ sunW: 6000 }));
  expect(plant.truth.potentialW).toBeLessThan(60 * 57);
  expect(plant.truth.potentialW).toBeGreaterThan(60 * 48);
});

/** More water than an idle site and a full bank can take, and a turbine in the wind. */
const SPATE = {
  ...TASMANIA,
  hydro: [{ id: "creek", powerW: 1500 }],
  wind: [{ id: "ridge", ratedW: 1000, elevationM: 300 }],
};

const creekInput = fc.record({
  sunW: fc.constantFrom(0, 1, 800, 3200),
  windW: fc.oneof(fc.constantFrom(0, 1000), fc.double({ min: 0, max: 1000, noNaN: true })),
  baseAcW: fc.oneof(fc.constantFrom(0, 5000), fc.double({ min: 0, max: 4000, noNaN: true })),
  batteryTemperatureC: fc.constantFrom(-5, 5, 25, 40),
  isGeneratorCalled: fc.boolean(),
  loadStages: fc.tuple(fc.nat(1), fc.nat(2), fc.nat(1)),
  shedClosed: fc.boolean(),
});

test("lead-acid, turbine, dump and generator: the energy book closes and each gives what it can", () => {
  let dumped = 0;
  let generated = 0;
  const start = fc.constantFrom(0, 0.02, 0.3, 0.8, 0.97, 0.999, 1);
  fc.assert(
    fc.property(
      start,
      fc.constantFrom(1, 10, 60),
      fc.array(creekInput, { minLength: 5, maxLength: 60 }),
      (soc, dtS, all) => {
        const plant = createPlant(SPATE, soc);
        const { truth } = plant;
        for (const { shedClosed, ...rest } of all) {
          const given = input({ ...rest, panelsClosed: [shedClosed] });
          expect(imbalance(plant, dtS, given)).toBeLessThan(1e-9);
          for (const [i, turbineW] of [1500, rest.windW].entries()) {
            const [takenW, dumpW] = [truth.turbineDeliveredW[i] ?? 0, truth.turbineDumpW[i] ?? 0];
            expect(Math.abs(takenW + dumpW - turbineW)).toBeLessThan(1e-6);
            expect(takenW).toBeGreaterThanOrEqual(0);
            expect(dumpW).toBeGreaterThanOrEqual(-1e-9);
          }
          const dumpW = truth.turbineDumpW[0] ?? 0;
          expect(truth.generatorW).toBeGreaterThanOrEqual(-1e-6);
          expect(truth.deliveredW).toBeLessThanOrEqual(truth.potentialW + 1e-6);
          expect(truth.socFraction).toBeLessThanOrEqual(1 + 1e-12);
          if (dumpW > 1) dumped += 1;
          if (truth.generatorW > 1) generated += 1;
          // The sun is held back before the turbine is.
          if (dumpW > 1) expect(truth.arrayDeliveredW[0] ?? 0).toBeLessThan(1);
        }
      },
    ),
    { seed: 20120517, numRuns: 400 },
  );
  expect(dumped).toBeGreaterThan(50);
  expect(generated).toBeGreaterThan(50);
});

test("a full bank holds the sun back at its set-point, and the turbine at the dump's voltage", () => {
  const quiet = { baseAcW: 0, batteryTemperatureC: 25, panelsClosed: [false] };
  const plant = createPlant(TASMANIA, 1);
  const bright = input({ ...quiet, baseAcW: 600, sunW: 3000, loadStages: [0, 0, 0] });
  plant.step(60, bright);
  plant.step(60, bright);
  expect(plant.truth.batteryVoltageV).toBeCloseTo(58.8, 6);
  expect(plant.truth.turbineDumpW[0]).toBe(0);
  const still = input({ ...quiet, sunW: 3000, loadStages: [0, 0, 0] });
  const strong = createPlant(SPATE, 1);
  strong.step(60, still);
  strong.step(60, still);
  expect(strong.truth.batteryVoltageV).toBeCloseTo(TASMANIA.dumpV, 6);
  expect(strong.truth.turbineDumpW[0]).toBeGreaterThan(500);
  expect(strong.truth.arrayDeliveredW[0]).toBeCloseTo(0, 6);
});
