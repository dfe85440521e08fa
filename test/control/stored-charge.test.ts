import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { storedFraction, storedShare } from "../../service/control/stored-charge.ts";
import { chargeState } from "../../service/control/charge-stage.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { ChargeStage } from "../../service/control/observation.ts";
import { floodedBattery, fresh, lfpBattery, lost, observe, site } from "./given.ts";

const BATTERY = floodedBattery({ capacityAh: 600, coulombicEfficiencyFraction: 0.9 });
const MINUTE_MS = 60_000;

function seen(currentA: number) {
  return observe(site({ battery: BATTERY }), 0, { currentA });
}

describe("the share of a charge that is stored", () => {
  it("has the settings' efficiency as its mean over a whole charge", () => {
    for (const efficiency of [0.8, 0.9, 0.95]) {
      const battery = floodedBattery({ coulombicEfficiencyFraction: efficiency });
      let sum = 0;
      for (let place = 0; place < 1000; place += 1)
        sum += storedShare((place + 0.5) / 1000, battery);
      expect(sum / 1000).toBeCloseTo(efficiency, 3);
    }
  });

  it("is whole at half charge, falls towards full, and is nothing there", () => {
    expect(storedShare(0.5, BATTERY)).toBe(1);
    expect(storedShare(0.9, BATTERY)).toBeCloseTo(0.5, 12);
    expect(storedShare(1, BATTERY)).toBe(0);
    expect(storedShare(0.9, lfpBattery({ coulombicEfficiencyFraction: 0.99 }))).toBe(0.99);
  });
});

describe("the second count", () => {
  /** Days between 70 and 92 % without a full charge, against a monitor that counts 90 % of all. */
  it("falls behind a monitor that counts gas as charge", () => {
    let said = 0.92;
    let stored: number | null = 0.92;
    for (let day = 0; day < 5; day += 1) {
      for (const currentA of [-60, 60]) {
        for (let minute = 0; said > 0.7 && said <= 0.92 && minute < 2000; minute += 1) {
          said += ((currentA > 0 ? 0.9 : 1) * currentA) / 60 / 600;
          const input = { battery: BATTERY, dtMs: MINUTE_MS, isFull: false, saidFraction: said };
          stored = storedFraction(stored, seen(currentA), input);
        }
        said = currentA < 0 ? 0.7001 : 0.92;
      }
    }
    expect(said - (stored ?? 1)).toBeGreaterThan(0.01);
    expect(said - (stored ?? 1)).toBeLessThan(0.12);
  });

  it("is right again at a full charge", () => {
    const input = { battery: BATTERY, dtMs: MINUTE_MS, isFull: true, saidFraction: 0.99 };
    expect(storedFraction(0.9, seen(5), input)).toBe(0.99);
  });

  it("is not kept for lithium, nor without a state of charge", () => {
    const input = { battery: BATTERY, dtMs: MINUTE_MS, isFull: false, saidFraction: 0.8 };
    expect(storedFraction(0.7, seen(5), { ...input, battery: lfpBattery() })).toBeNull();
    expect(storedFraction(0.7, seen(5), { ...input, saidFraction: null })).toBeNull();
    expect(storedFraction(null, seen(5), input)).toBe(0.8);
  });

  it("waits where no current is known", () => {
    const observation = seen(50);
    const blind = { ...observation, battery: { ...observation.battery, currentA: lost(50) } };
    const input = { battery: BATTERY, dtMs: MINUTE_MS, isFull: false, saidFraction: 0.8 };
    expect(storedFraction(0.75, blind, input)).toBe(0.75);
  });

  it("never says more than the monitor, nor less than it by more than 12 %", () => {
    const share = fc.integer({ min: 0, max: 100 }).map((percent) => percent / 100);
    fc.assert(
      fc.property(share, share, fc.integer({ min: -200, max: 200 }), (before, said, currentA) => {
        const input = { battery: BATTERY, dtMs: MINUTE_MS, isFull: false, saidFraction: said };
        const after = storedFraction(before, seen(currentA), input) ?? NaN;
        expect(after).toBeLessThanOrEqual(said);
        expect(after).toBeGreaterThanOrEqual(said - 0.12 - 1e-12);
      }),
    );
  });
});

describe("a charge that the controller has ended", () => {
  function stateAfter(before: ChargeStage, now: ChargeStage, voltageV: number, isReported = true) {
    const settings = site({ battery: BATTERY });
    const observation = observe(settings, 0, { voltageV, currentA: 25 });
    const chargeStage = isReported ? fresh(now) : lost(now);
    const reported = { ...observation, battery: { ...observation.battery, chargeStage } };
    const memory = { ...initialMemory(settings, 0).battery, stage: before };
    return chargeState(memory, reported, BATTERY);
  }

  it("counts as full when float is reported after absorption, whatever still flows", () => {
    expect(stateAfter("absorption", "float", BATTERY.floatVoltageV).isFull).toBe(true);
    expect(stateAfter("bulk", "float", BATTERY.floatVoltageV).isFull).toBe(false);
    expect(stateAfter("absorption", "absorption", BATTERY.absorptionVoltageV).isFull).toBe(false);
  });

  it("is not full below the float set-point, nor on a report that is too old", () => {
    expect(stateAfter("absorption", "float", BATTERY.floatVoltageV - 1).isFull).toBe(false);
    expect(stateAfter("absorption", "float", BATTERY.floatVoltageV, false).isFull).toBe(false);
  });
});
