/**
 * Discharge that is faster than the rated one takes more than its ampere-hours.
 *
 * Truth: CHECKS.md BA-1, rated-hour convention, t = H · (C / (I·H))^k: 100 Ah at 20 h, k 1.2, 10 A
 * give 8.7055 h (and 87.06 Ah). The formula is standard; the check table computed the figure. The
 * core has no time to empty, only the current that drains as fast at the rated rate: t = C / that.
 */
import { describe, expect, it } from "vitest";
import { effectiveDischargeA } from "../../service/control/state-of-charge.ts";
import { floodedBattery, HOUR_MS, Run, site, TICK_MS } from "../control/given.ts";

const CAPACITY_AH = 100;
const RATED_HOURS = 20;
const RATED_A = CAPACITY_AH / RATED_HOURS;

function battery(peukertExponent: number) {
  return floodedBattery({ capacityAh: CAPACITY_AH, ratedHours: RATED_HOURS, peukertExponent });
}

function hoursToEmpty(dischargeA: number, peukertExponent: number): number {
  return CAPACITY_AH / effectiveDischargeA(dischargeA, battery(peukertExponent));
}

describe("Peukert, rated-hour convention", () => {
  it("empties 100 Ah at 20 h with k 1.2 by 10 A in 8.7055 h, 87.06 Ah", () => {
    // The table prints four digits after the point.
    expect(hoursToEmpty(10, 1.2)).toBeCloseTo(8.7055, 4);
    expect(hoursToEmpty(10, 1.2) * 10).toBeCloseTo(87.06, 2);
  });

  it.each([1.05, 1.15, 1.2, 1.3])("takes the rated hours at the rated current, k %d", (k) => {
    expect(hoursToEmpty(RATED_A, k)).toBe(RATED_HOURS);
  });

  it.each([0.5, RATED_A, 10, 60])("k = 1: %d A takes C / I", (dischargeA) => {
    expect(hoursToEmpty(dischargeA, 1)).toBe(CAPACITY_AH / dischargeA);
  });

  it("gives no credit to slow discharge", () => {
    for (const dischargeA of [0, 0.5, 4.999]) {
      expect(effectiveDischargeA(dischargeA, battery(1.25))).toBe(dischargeA);
    }
  });

  it("grows with current and exponent, without a jump at the rated current", () => {
    expect(effectiveDischargeA(RATED_A * (1 + 1e-9), battery(1.3))).toBeCloseTo(RATED_A, 6);
    const currents = [6, 10, 20, 60];
    for (const dischargeA of currents) {
      const weak = effectiveDischargeA(dischargeA, battery(1.1));
      expect(weak).toBeGreaterThan(dischargeA);
      expect(effectiveDischargeA(dischargeA, battery(1.3))).toBeGreaterThan(weak);
      expect(effectiveDischargeA(dischargeA + 1, battery(1.1))).toBeGreaterThan(weak + 1);
    }
  });
});

describe("the count of the charge", () => {
  it("is drawn down by the effective current: an hour of 10 A out of 100 Ah costs 11.49 %", () => {
    const run = new Run(site({ battery: battery(1.2) }));
    const counted = {
      battery: { socFraction: { value: 0, quality: "unmapped", ageMs: 0 } },
    } as const;
    run.tick({ socFraction: 1, currentA: 0 });
    run.during(HOUR_MS, { ...counted, currentA: -10 });
    expect(run.atMs).toBe(HOUR_MS + TICK_MS);
    // 1 h of 8.7055 h.
    expect(run.memory.battery.countFraction).toBeCloseTo(1 - 1 / 8.7055, 5);
  });
});
