/** The simulated lead-acid battery against published values and closed forms. */
import { describe, expect, test } from "vitest";
import { batteryPlantSettings } from "../../simulator/plant/battery-settings.ts";
import type { LeadAcidSettings } from "../../simulator/plant/battery-settings.ts";
import { createBattery } from "../../simulator/plant/create-battery.ts";
import type { Battery } from "../../simulator/plant/battery.ts";
import { restVoltageV } from "../../simulator/plant/lead-acid-cell.ts";
import { floodedBattery } from "../control/given.ts";

const SETTINGS = leadAcid(
  floodedBattery({
    capacityAh: 600,
    ratedHours: 20,
    peukertExponent: 1.25,
    nominalVoltageV: 48,
    absorptionVoltageV: 58.8,
    coulombicEfficiencyFraction: 0.9,
    resistanceOhm: 0.012,
  }),
);

function leadAcid(given: Parameters<typeof batteryPlantSettings>[0]): LeadAcidSettings {
  const settings = batteryPlantSettings(given);
  if (settings.kind !== "lead-acid") throw new Error("flooded is lead-acid");
  return settings;
}

/** CHECKS BA-2: 12.65, 12.45, 12.24, 12.06 and 11.89 V for six cells at rest. */
test.each([
  [1, 12.65],
  [0.75, 12.45],
  [0.5, 12.24],
  [0.25, 12.06],
  [0, 11.89],
])("rest voltage at %d: %d V a battery of six cells", (socFraction, voltageV) => {
  expect(6 * restVoltageV(socFraction)).toBeCloseTo(voltageV, 2);
});

describe("what it gives", () => {
  function hoursAt(dischargeA: number): number {
    const battery = createBattery(SETTINGS, 1);
    let seconds = 0;
    while (battery.emptyingCurrentA(60) <= -dischargeA && seconds < 1e6) {
      battery.advance(-dischargeA, 60);
      seconds += 60;
    }
    return seconds / 3600;
  }

  /** Peukert, rated-hour convention (CHECKS BA-1), at the three rates to which it is fitted. */
  test.each([20, 10, 1])(
    "empties in %d h at the current that Peukert's law has for it",
    (hours) => {
      const capacityAh = 600 * Math.pow(hours / 20, 1 - 1 / 1.25);
      // The fit of two constants to three capacities leaves under 4 % at the fast end.
      expect(Math.abs(hoursAt(capacityAh / hours) / hours - 1)).toBeLessThan(0.04);
    },
  );

  test("after a fast discharge a rest brings some of the charge back", () => {
    const battery = createBattery(SETTINGS, 1);
    while (battery.emptyingCurrentA(60) <= -200) battery.advance(-200, 60);
    const atOnceA = -battery.emptyingCurrentA(3600);
    for (let i = 0; i < 600; i += 1) battery.advance(0, 60);
    expect(-battery.emptyingCurrentA(3600)).toBeGreaterThan(atOnceA + 30);
  });
});

describe("what it accepts", () => {
  const acceptedA = (battery: Battery) => battery.currentForVoltage(58.8, 60);

  test("C/8 at 80 % and C/100 when full, falling all the way (common practice, no source)", () => {
    expect(acceptedA(createBattery(SETTINGS, 0.8))).toBeCloseTo(72, -1);
    expect(acceptedA(createBattery(SETTINGS, 1))).toBeCloseTo(6, 0);
    const currents = [0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1].map((soc) =>
      acceptedA(createBattery(SETTINGS, soc)),
    );
    expect([...currents].sort((a, b) => b - a)).toEqual(currents);
  });

  /** CHECKS BA-6: over 95 % at low charge, falling off towards full. */
  test("the nearer to full, the less of the charge is stored", () => {
    const storedShare = (soc: number) => {
      const battery = createBattery(SETTINGS, soc);
      battery.advance(10, 60);
      return ((battery.socFraction() - soc) * 600) / (10 / 60);
    };
    expect(storedShare(0.5)).toBeGreaterThan(0.95);
    const shares = [0.5, 0.7, 0.8, 0.9, 0.95, 0.99].map(storedShare);
    expect([...shares].sort((a, b) => b - a)).toEqual(shares);
    expect(storedShare(0.95)).toBeLessThan(0.5);
  });

  test("with a stored share of 1 − soc the charge follows 1 − exp(−Ah/C)", () => {
    const battery = createBattery({ ...SETTINGS, gassingExponent: 1 }, 0.2);
    for (let i = 0; i < 36_000; i += 1) battery.advance(60, 1);
    // 600 Ah put in; the share is that of each step's start, which is the error here.
    expect(battery.socFraction()).toBeCloseTo(1 - 0.8 * Math.exp(-1), 4);
  });

  test("at the set-point the current tapers to the tail within hours", () => {
    const battery = createBattery(SETTINGS, 0.85);
    let hours = 0;
    let lastA = Infinity;
    while (acceptedA(battery) > 12 && hours < 24) {
      const currentA = acceptedA(battery);
      expect(currentA).toBeLessThan(lastA);
      lastA = currentA;
      battery.advance(currentA, 60);
      hours += 1 / 60;
    }
    // Charging to the very end takes 7 to 10 h beyond bulk (from memory).
    expect(hours).toBeGreaterThan(3);
    expect(hours).toBeLessThan(10);
  });

  /** From a fifth missing, C/10 first: two to four hours at the set-point (common practice). */
  test("C/10 up to the set-point, then held there till the tail of C/30", () => {
    const battery = createBattery(SETTINGS, 0.8);
    const hours = { bulk: 0, held: 0 };
    for (let minute = 0; minute < 24 * 60; minute += 1) {
      const isHeld = battery.terminalVoltageV(60, 60) >= 58.8;
      const currentA = Math.min(isHeld ? acceptedA(battery) : 60, battery.fillingCurrentA(60));
      if (isHeld && currentA <= 20) break;
      // Nothing but the set-point bounds the current: the voltage stays at it.
      if (isHeld) expect(battery.terminalVoltageV(currentA, 60)).toBeCloseTo(58.8, 6);
      battery.advance(currentA, 60);
      hours[isHeld ? "held" : "bulk"] += 1 / 60;
    }
    expect(hours.bulk).toBeLessThan(1.5);
    expect(hours.held).toBeGreaterThan(2);
    expect(hours.held).toBeLessThan(4);
    expect(battery.socFraction()).toBeGreaterThan(0.94);
  });

  /** CHECKS BA-6: about 80 % of the energy comes back. */
  test("a cycle between 60 and 90 % gives back 70 to 90 % of the energy", () => {
    const battery = createBattery(SETTINGS, 0.9);
    let outWh = 0;
    let inWh = 0;
    while (battery.socFraction() > 0.6) {
      outWh += (battery.terminalVoltageV(-40, 60) * 40) / 60;
      battery.advance(-40, 60);
    }
    while (battery.socFraction() < 0.9) {
      const currentA = Math.min(60, acceptedA(battery));
      inWh += (battery.terminalVoltageV(currentA, 60) * currentA) / 60;
      battery.advance(currentA, 60);
    }
    expect(outWh / inWh).toBeGreaterThan(0.7);
    expect(outWh / inWh).toBeLessThan(0.9);
  });
});

test("its monitor counts with one efficiency, and a completed charge sets it to full", () => {
  const battery = createBattery(SETTINGS, 0.5);
  battery.advance(60, 3600);
  expect(battery.monitorFraction()).toBeCloseTo(0.5 + (60 * 0.9) / 600, 9);
  battery.advance(-60, 3600);
  expect(battery.monitorFraction()).toBeCloseTo(0.49, 9);
  battery.syncMonitor();
  expect(battery.monitorFraction()).toBe(1);
});
