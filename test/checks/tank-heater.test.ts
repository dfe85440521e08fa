import fc from "fast-check";
import { expect, test } from "vitest";
import { advanceTank, createTank, WATER_WH_PER_LK } from "../../simulator/plant/tank-heater.ts";
import type { TankPlantSettings } from "../../simulator/plant/load-plant-settings.ts";

const SETTINGS: TankPlantSettings = {
  volumeL: 200,
  lossWPerK: 86 / 45,
  ambientC: 20,
  inletC: 10,
  thermostatC: 85,
  thermostatHysteresisK: 5,
  usefulC: 40,
  drawScale: 1,
  startC: 60,
};

/** CHECKS WH-3: class C at 200 L is 86.0 W over 45 K, UA 1.911 W/K; 60 °C → 52.8 °C in 24 h. */
test("standing loss: 200 L of class C cools from 60 to 52.8 °C in a day", () => {
  expect(16.66 + 8.33 * Math.pow(200, 0.4)).toBeCloseTo(86, 0);
  const tank = createTank(SETTINGS);
  for (let minute = 0; minute < 1440; minute += 1) {
    advanceTank(tank, { powerW: 0, wantedWh: 0 }, 60);
  }
  expect(Math.abs(tank.temperatureC - 52.8)).toBeLessThan(0.05);
  const timeConstantH = (200 * WATER_WH_PER_LK) / SETTINGS.lossWPerK;
  // Printed 120.5 h with the density at 60 °C; constant properties make it 1 % longer.
  expect(Math.abs(timeConstantH - 120.5) / 120.5).toBeLessThan(0.011);
});

/** CHECKS WH-1: 200 L from 15 to 60 °C is 10.44 kWh (IAPWS); constant properties within 0.5 %. */
test("sensible heat: 200 L from 15 to 60 °C", () => {
  const tank = createTank({ ...SETTINGS, startC: 15, lossWPerK: 1e-9 });
  const powerW = 2000;
  let usedWh = 0;
  while (tank.temperatureC < 60) {
    advanceTank(tank, { powerW, wantedWh: 0 }, 1);
    usedWh += powerW / 3600;
  }
  expect(Math.abs(usedWh - 10_440) / 10_440).toBeLessThan(0.005);
});

test("heating towards its settling temperature follows 1 − exp(−t/τ), in steps of any length", () => {
  for (const dtS of [1, 7, 60]) {
    const tank = createTank({ ...SETTINGS, startC: 20 });
    const steps = Math.round(36_000 / dtS);
    for (let i = 0; i < steps; i += 1) advanceTank(tank, { powerW: 100, wantedWh: 0 }, dtS);
    const tauS = ((200 * WATER_WH_PER_LK) / SETTINGS.lossWPerK) * 3600;
    const riseK = (100 / SETTINGS.lossWPerK) * (1 - Math.exp((-steps * dtS) / tauS));
    expect(tank.temperatureC).toBeCloseTo(20 + riseK, 8);
  }
});

test("the tank's own energy book closes, and useful heat never exceeds what was diverted", () => {
  const step = fc.record({
    powerW: fc.constantFrom(0, 1000, 2000),
    wantedWh: fc.oneof(fc.constant(0), fc.double({ min: 0, max: 400, noNaN: true })),
  });
  fc.assert(
    fc.property(fc.constantFrom(12, 39.9, 40, 60, 84), fc.array(step), (startC, steps) => {
      const tank = createTank({ ...SETTINGS, startC });
      let divertedWh = 0;
      let usefulWh = 0;
      for (const { powerW, wantedWh } of steps) {
        const beforeC = tank.temperatureC;
        advanceTank(tank, { powerW, wantedWh }, 60);
        const heldWh = (tank.temperatureC - beforeC) * 200 * WATER_WH_PER_LK;
        const spentWh = tank.lossWh + tank.drawnWh;
        expect(Math.abs(powerW / 60 - heldWh - spentWh)).toBeLessThan(1e-8);
        divertedWh += powerW / 60;
        usefulWh += tank.usefulWh;
        expect(usefulWh + tank.divertedHeatWh).toBeLessThanOrEqual(divertedWh + 1e-6);
      }
    }),
    { seed: 8122013, numRuns: 200 },
  );
});

test("the thermostat opens at its limit and closes below its hysteresis", () => {
  const tank = createTank({ ...SETTINGS, startC: 84.99 });
  advanceTank(tank, { powerW: 2000, wantedWh: 0 }, 60);
  expect(tank.isThermostatClosed).toBe(false);
  while (tank.temperatureC > 80.01) advanceTank(tank, { powerW: 0, wantedWh: 1 }, 60);
  expect(tank.isThermostatClosed).toBe(false);
  while (tank.temperatureC > 80) advanceTank(tank, { powerW: 0, wantedWh: 1 }, 60);
  expect(tank.isThermostatClosed).toBe(true);
});
