import { expect, test } from "vitest";
import {
  advanceCharger,
  createCharger,
  setPointV,
} from "../../simulator/plant/charge-controller.ts";
import type { Charger } from "../../simulator/plant/charge-controller.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import { simulatedSite } from "./simulated-site.ts";

// Absorption 56 V, float 54 V, back to bulk under 53.2 V, tail 8 A for 300 s.
const SETTINGS = plantSettings(simulatedSite()).charger;

function see(charger: Charger, voltageV: number, currentA: number, seconds = 60): void {
  for (let s = 0; s < seconds; s += 60) {
    const seen = {
      batteryVoltageV: voltageV,
      batteryCurrentA: currentA,
      batteryTemperatureC: 25,
      sunPotentialW: 3000,
    };
    advanceCharger(charger, seen, 60);
  }
}

function absorbing(): Charger {
  const charger = createCharger(SETTINGS);
  see(charger, 55.9, 80);
  expect(charger.stage).toBe("bulk");
  see(charger, 56, 80);
  expect(charger.stage).toBe("absorption");
  return charger;
}

test("bulk until the set-point holds, absorption until the tail has lasted, then float", () => {
  const charger = absorbing();
  see(charger, 56, 9, 600);
  expect(charger.stage).toBe("absorption");
  see(charger, 56, 8, 240);
  expect(charger.stage).toBe("absorption");
  see(charger, 56, 8, 60);
  expect(charger.stage).toBe("float");
  expect(setPointV(charger, 25)).toBe(54);
  expect(charger.absorptionsCompleted).toBe(1);
});

test("a cloud's small current is no tail: the voltage is not at the set-point", () => {
  const charger = absorbing();
  see(charger, 55.5, 2, 3600);
  expect(charger.stage).toBe("absorption");
  see(charger, 56, 8, 240);
  see(charger, 55.5, 2, 60);
  see(charger, 56, 8, 240);
  expect(charger.stage).toBe("absorption");
});

test("absorption ends by time, too; only time at the set-point counts", () => {
  const charger = absorbing();
  see(charger, 56, 40, SETTINGS.absorptionMaxS - 60);
  see(charger, 55.5, 40, 3600);
  expect(charger.stage).toBe("absorption");
  see(charger, 56, 40, 60);
  expect(charger.stage).toBe("float");
});

test("from float back to bulk when the voltage sags, or with the next morning's light", () => {
  const sagging = absorbing();
  see(sagging, 56, 5, 300);
  see(sagging, 53.2, -20);
  expect(sagging.stage).toBe("float");
  see(sagging, 53.19, -20);
  expect(sagging.stage).toBe("bulk");
  const overnight = absorbing();
  see(overnight, 56, 5, 300);
  const dark = {
    batteryVoltageV: 53.5,
    batteryCurrentA: -5,
    batteryTemperatureC: 25,
    sunPotentialW: 0,
  };
  for (let s = 0; s < 3600; s += 60) advanceCharger(overnight, dark, 60);
  expect(overnight.stage).toBe("float");
  see(overnight, 53.5, -5);
  expect(overnight.stage).toBe("bulk");
});

test("the set-point follows the battery's temperature, 25 °C being the maker's", () => {
  const charger = createCharger({ ...SETTINGS, absorptionV: 14.4, compensationVPerK: -0.03 });
  // CHECKS BA-3: 6 cells at −5 mV/K, 14.4 V at 25 °C.
  const expected = [
    [-10, 15.45],
    [0, 15.15],
    [25, 14.4],
    [45, 13.8],
  ] as const;
  for (const [temperatureC, voltageV] of expected) {
    expect(setPointV(charger, temperatureC)).toBeCloseTo(voltageV, 9);
  }
});
