/** Falling and lifted water. The formula P = ρ·g·Q·H is the trade's; the figures are worked by hand. */
import fc from "fast-check";
import { expect, test } from "vitest";
import {
  advanceCisternPump,
  createCisternPump,
  isSourceLow,
  levelFraction,
  pumpPowerW,
} from "../../simulator/plant/cistern-pump.ts";
import { hydraulicPowerW, liftedLPerMin } from "../../simulator/plant/hydraulics.ts";

const SETTINGS = {
  headM: 40,
  efficiencyFraction: 0.4,
  cisternL: 2000,
  usedPerDayL: 1440,
  closesAtFraction: 0.8,
  basinL: 500,
  springLPerMin: 5,
  dryFraction: 0.45,
};

test("10 L/s falling 10 m are 980.665 W", () => {
  expect(hydraulicPowerW(600, 10)).toBeCloseTo(980.665, 9);
});

test("750 W through 40 % lift 45.89 L/min over 40 m, and lifting undoes falling", () => {
  expect(liftedLPerMin(750, SETTINGS)).toBeCloseTo(45.887, 2);
  const lifted = liftedLPerMin(750, { headM: 40, efficiencyFraction: 1 });
  expect(hydraulicPowerW(lifted, 40)).toBeCloseTo(750, 9);
});

test("the level switch opens when full and closes again at its lower mark", () => {
  const pump = createCisternPump({ ...SETTINGS, springLPerMin: 100 });
  let minutes = 0;
  while (pump.isSwitchClosed && minutes < 1000) {
    advanceCisternPump(pump, pumpPowerW(pump, 750), 60);
    minutes += 1;
  }
  // From half full: 1000 L at 45.89 − 1 L/min.
  expect(minutes).toBe(23);
  expect(pumpPowerW(pump, 750)).toBe(0);
  while (!pump.isSwitchClosed && minutes < 2000) {
    advanceCisternPump(pump, pumpPowerW(pump, 750), 60);
    minutes += 1;
  }
  expect(levelFraction(pump)).toBeCloseTo(0.8, 2);
});

test("an empty basin lets it run dry: less power, the spring's flow at most, then none", () => {
  const pump = createCisternPump({ ...SETTINGS, springLPerMin: 0 });
  for (let i = 0; i < 12; i += 1) advanceCisternPump(pump, pumpPowerW(pump, 750), 60);
  expect(pump.basinL).toBe(0);
  expect(isSourceLow(pump)).toBe(true);
  expect(pumpPowerW(pump, 750)).toBeCloseTo(337.5, 9);
  advanceCisternPump(pump, pumpPowerW(pump, 750), 60);
  expect(pump.flowLPerMin).toBe(0);
});

test("no water is made or lost", () => {
  const step = fc.record({ powerW: fc.constantFrom(0, 337.5, 750), dtS: fc.constantFrom(1, 60) });
  fc.assert(
    fc.property(fc.array(step, { minLength: 1, maxLength: 200 }), (steps) => {
      // A basin that cannot overflow, and a use that cannot fail: then everything can be counted.
      const pump = createCisternPump({ ...SETTINGS, basinL: 1e6, usedPerDayL: 0 });
      const beforeL = pump.basinL + pump.cisternL;
      for (const { powerW, dtS } of steps) {
        pump.basinL -= (SETTINGS.springLPerMin * dtS) / 60;
        advanceCisternPump(pump, powerW, dtS);
      }
      expect(Math.abs(pump.basinL + pump.cisternL - beforeL) / beforeL).toBeLessThan(1e-12);
    }),
  );
});
