import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  COMPLETED_FRACTION,
  lossFactorAfter,
  lostFractionAfter,
  restoredLossFactor,
  storedFraction,
  storedShare,
} from "../../service/control/stored-charge.ts";
import type { StoredCharge } from "../../service/control/stored-charge.ts";
import { chargeState } from "../../service/control/charge-stage.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { ChargeStage } from "../../service/control/observation.ts";
import { floodedBattery, fresh, lfpBattery, lost, observe, site } from "./given.ts";

const BATTERY = floodedBattery({ capacityAh: 600, coulombicEfficiencyFraction: 0.9 });
const MINUTE_MS = 60_000;

function seen(currentA: number) {
  return observe(site({ battery: BATTERY }), 0, { currentA });
}

/** A battery that was seen to lose what its settings say. */
function had(fraction: number | null, over: Partial<StoredCharge> = {}): StoredCharge {
  return { storedFraction: fraction, lossFactor: 1, lostFraction: null, isFull: false, ...over };
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
          stored = storedFraction(had(stored), seen(currentA), input);
        }
        said = currentA < 0 ? 0.7001 : 0.92;
      }
    }
    expect(said - (stored ?? 1)).toBeGreaterThan(0.01);
    expect(said - (stored ?? 1)).toBeLessThan(0.12);
  });

  it("begins anew where a charge is completed, and from there only rises while it stays so", () => {
    const input = { battery: BATTERY, dtMs: MINUTE_MS, isFull: true, saidFraction: 1 };
    expect(storedFraction(had(0.9), seen(5), input)).toBe(COMPLETED_FRACTION);
    expect(storedFraction(had(0.99), seen(5), input)).toBe(COMPLETED_FRACTION);
    expect(storedFraction(had(null), seen(5), input)).toBe(COMPLETED_FRACTION);
    const low = { ...input, saidFraction: 0.95 };
    expect(storedFraction(had(0.9), seen(5), low)).toBe(0.95);
    const full = had(COMPLETED_FRACTION, { isFull: true });
    const later = storedFraction(full, seen(5), input) ?? NaN;
    expect(later).toBeGreaterThan(COMPLETED_FRACTION);
    expect(later).toBeLessThan(COMPLETED_FRACTION + 5 / 60 / 600);
    expect(storedFraction(full, seen(-5), input)).toBe(COMPLETED_FRACTION);
  });

  it("is not kept for lithium, nor without a state of charge", () => {
    const input = { battery: BATTERY, dtMs: MINUTE_MS, isFull: false, saidFraction: 0.8 };
    expect(storedFraction(had(0.7), seen(5), { ...input, battery: lfpBattery() })).toBeNull();
    expect(storedFraction(had(0.7), seen(5), { ...input, saidFraction: null })).toBeNull();
    expect(storedFraction(had(null), seen(5), input)).toBe(0.8);
  });

  it("waits where no current is known", () => {
    const observation = seen(50);
    const blind = { ...observation, battery: { ...observation.battery, currentA: lost(50) } };
    const input = { battery: BATTERY, dtMs: MINUTE_MS, isFull: false, saidFraction: 0.8 };
    expect(storedFraction(had(0.75), blind, input)).toBe(0.75);
  });

  it("never says more than the monitor, nor less than it by more than 12 %", () => {
    const share = fc.integer({ min: 0, max: 100 }).map((percent) => percent / 100);
    fc.assert(
      fc.property(share, share, fc.integer({ min: -200, max: 200 }), (before, said, currentA) => {
        const input = { battery: BATTERY, dtMs: MINUTE_MS, isFull: false, saidFraction: said };
        const after = storedFraction(had(before), seen(currentA), input) ?? NaN;
        expect(after).toBeLessThanOrEqual(said);
        expect(after).toBeGreaterThanOrEqual(said - 0.12 - 1e-12);
      }),
    );
  });
});

describe("what a battery loses towards full", () => {
  const TICK = { battery: BATTERY, dtMs: MINUTE_MS, isFull: false };

  /** Up to full and down to 70 %, over and over, with losses so many times the settings'. */
  function learnedOf(trueFactor: number, cycles: number): number[] {
    let truth = COMPLETED_FRACTION;
    let memory = had(truth, { lostFraction: 0, isFull: true });
    const factors: number[] = [];
    for (let cycle = 0; cycle < cycles; cycle += 1) {
      for (const currentA of [-60, 60]) {
        const isOver = () => (currentA < 0 ? truth <= 0.7 : truth >= COMPLETED_FRACTION);
        for (let minute = 0; !isOver(); minute += 1) {
          expect(minute).toBeLessThan(5000);
          const share = currentA < 0 ? 1 : 1 - trueFactor * (1 - storedShare(truth, BATTERY));
          truth += (share * currentA) / 60 / 600;
          const input = { ...TICK, isFull: truth >= COMPLETED_FRACTION };
          const saidFraction = Math.min(1, truth + 0.05);
          const observation = seen(currentA);
          memory = {
            storedFraction: storedFraction(memory, observation, { ...input, saidFraction }),
            lossFactor: lossFactorAfter(memory, input.isFull),
            lostFraction: lostFractionAfter(memory, observation, { ...input, isSeen: true }),
            isFull: input.isFull,
          };
        }
      }
      factors.push(memory.lossFactor);
    }
    return factors;
  }

  it.each([0.7, 1, 1.1])("is learned where charges are completed: %s", (trueFactor) => {
    const factors = learnedOf(trueFactor, 25);
    expect(factors.at(-1)).toBeCloseTo(trueFactor, 1);
    const errors = factors.map((factor) => Math.abs(factor - trueFactor));
    for (const [cycle, error] of errors.slice(1).entries()) {
      expect(error).toBeLessThanOrEqual((errors[cycle] ?? NaN) + 0.01);
    }
  });

  it("stays within bounds, whatever a broken current sensor says", () => {
    const shares = fc.integer({ min: 0, max: 1000 }).map((promille) => promille / 1000);
    fc.assert(
      fc.property(shares, shares, shares, (stored, lost, factor) => {
        const memory = had(stored, { lostFraction: lost, lossFactor: 0.5 + factor });
        const after = lossFactorAfter(memory, true);
        expect(after).toBeGreaterThanOrEqual(0.5);
        expect(after).toBeLessThanOrEqual(1.5);
        expect(Math.abs(after - memory.lossFactor)).toBeLessThanOrEqual(0.1 + 1e-12);
        // A count that ended too low has lost too much, and the other way round.
        const side = Math.sign(after - memory.lossFactor) * (stored - COMPLETED_FRACTION);
        expect(side).toBeGreaterThanOrEqual(0);
      }),
    );
  });

  it("is not learned from a charge of which some went by unseen, nor from next to nothing", () => {
    const memory = had(0.9, { lostFraction: 0.1 });
    expect(lossFactorAfter(memory, false)).toBe(1);
    expect(lossFactorAfter(memory, true)).toBeLessThan(1);
    expect(lossFactorAfter({ ...memory, isFull: true }, true)).toBe(1);
    expect(lossFactorAfter({ ...memory, lostFraction: 0.02 }, true)).toBe(1);
    expect(lossFactorAfter({ ...memory, lostFraction: null }, true)).toBe(1);
    expect(lossFactorAfter({ ...memory, storedFraction: null }, true)).toBe(1);
    const unseen = { ...TICK, isSeen: false };
    expect(lostFractionAfter(memory, seen(60), unseen)).toBeNull();
    const after = lostFractionAfter(memory, seen(60), { ...TICK, isSeen: true });
    expect(after).toBeCloseTo(0.1 + 0.5 / 600, 12);
    expect(lostFractionAfter(had(0.9), seen(60), { ...TICK, isSeen: true })).toBeNull();
    const none = had(null, { lostFraction: 0.1 });
    expect(lostFractionAfter(none, seen(60), { ...TICK, isSeen: true })).toBeNull();
    expect(lostFractionAfter(memory, seen(60), { ...TICK, isFull: true, isSeen: true })).toBe(0);
    const lithium = { ...TICK, battery: lfpBattery(), isSeen: true };
    expect(lostFractionAfter(memory, seen(60), lithium)).toBeNull();
  });

  it("never takes charge out by charging", () => {
    const input = { ...TICK, saidFraction: 1 };
    const memory = had(0.96, { lossFactor: 1.5 });
    expect(storedFraction(memory, seen(30), input)).toBe(0.96);
    expect(storedFraction(memory, seen(-30), input)).toBeLessThan(0.96);
  });

  it("is kept over a restart within its bounds", () => {
    expect(restoredLossFactor(null)).toBe(1);
    expect(restoredLossFactor(0.8)).toBe(0.8);
    expect(restoredLossFactor(-3)).toBe(0.5);
    expect(restoredLossFactor(9)).toBe(1.5);
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
