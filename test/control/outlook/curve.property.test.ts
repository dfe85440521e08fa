/** What must hold of the rule curve by outlook, whatever the sky, the use and the battery. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  acceptanceTable,
  acceptedW,
  learnAcceptance,
  NOTHING_SEEN,
} from "../../../service/control/outlook/acceptance-table.ts";
import { curveFractions, pathFractions } from "../../../service/control/outlook/curve.ts";
import type { CurveInput } from "../../../service/control/outlook/curve.ts";
import { storedShare } from "../../../service/control/stored-charge.ts";
import { floodedBattery, lfpBattery } from "../given.ts";

const net = fc.array(fc.integer({ min: -2000, max: 6000 }), { minLength: 1, maxLength: 96 });
const chemistry = fc.constantFrom(lfpBattery(), floodedBattery({ chargeLimitA: 80 }));
const bounds = fc
  .tuple(fc.integer({ min: 20, max: 80 }), fc.integer({ min: 1, max: 20 }))
  .map(([floor, over]) => ({ floorFraction: floor / 100, targetFraction: (floor + over) / 100 }));

const input = fc
  .record({ netW: net, bounds, battery: chemistry })
  .map(({ netW, bounds: { floorFraction, targetFraction }, battery }): CurveInput => ({
    netW,
    slotH: 0.25,
    floorFraction,
    targetFraction,
    ceilingFraction: Math.max(targetFraction, 0.97),
    battery: {
      capacityWh: battery.capacityAh * battery.nominalVoltageV,
      voltageShare: 0.93,
      storedShare: (fraction) => Math.max(0.1, storedShare(fraction, battery)),
      dischargeEfficiency: 1,
      acceptance: acceptanceTable(battery, NOTHING_SEEN),
    },
  }));

function everyPlace(one: readonly number[], other: readonly number[]): boolean {
  return one.every((value, place) => value <= other[place]! + 1e-12);
}

describe("the curve", () => {
  it("stays between floor and ceiling, and ends at the target", () => {
    fc.assert(
      fc.property(input, (given) => {
        const curve = curveFractions(given);
        expect(curve).toHaveLength(given.netW.length + 1);
        expect(curve.at(-1)).toBe(given.targetFraction);
        for (const fraction of curve) {
          expect(fraction).toBeGreaterThanOrEqual(given.floorFraction);
          expect(fraction).toBeLessThanOrEqual(given.ceilingFraction);
        }
      }),
    );
  });

  it("is above the target by what is drawn before the end", () => {
    const battery = { ...floodedBattery(), capacityAh: 400, nominalVoltageV: 50 };
    const curve = curveFractions({
      netW: [-800, -800],
      slotH: 0.25,
      floorFraction: 0.5,
      targetFraction: 0.9,
      ceilingFraction: 0.97,
      battery: {
        capacityWh: 20_000,
        voltageShare: 1,
        storedShare: () => 1,
        dischargeEfficiency: 1,
        acceptance: acceptanceTable(battery, NOTHING_SEEN),
      },
    });
    expect(curve).toEqual([expect.closeTo(0.92, 9), expect.closeTo(0.91, 9), 0.9]);
  });

  it("is never raised by more sun, nor lowered by more use", () => {
    fc.assert(
      fc.property(input, fc.integer({ min: 0, max: 3000 }), fc.nat(95), (given, moreW, at) => {
        const slot = at % given.netW.length;
        const sunnier = given.netW.map((netW, place) => (place === slot ? netW + moreW : netW));
        expect(everyPlace(curveFractions({ ...given, netW: sunnier }), curveFractions(given))).toBe(
          true,
        );
      }),
    );
  });

  it("does not drop its guard for a hopeless outlook: all is claimed", () => {
    fc.assert(
      fc.property(input, (given) => {
        const hopeless = given.netW.map(() => -100);
        const curve = curveFractions({ ...given, netW: hopeless });
        for (const at of curve) expect(at).toBeGreaterThanOrEqual(given.targetFraction);
      }),
    );
  });

  it("promises what comes true: from the curve a battery reaches its target without loads", () => {
    fc.assert(
      fc.property(input, (given) => {
        const curve = curveFractions(given);
        // Where it is pinned to its ceiling, what is to be drawn after that cannot be made good.
        fc.pre(!curve.includes(given.ceilingFraction));
        const end = pathFractions(curve[0]!, given).at(-1)!;
        expect(end).toBeGreaterThanOrEqual(given.targetFraction - 1e-9);
      }),
    );
  });

  it("leaves lead-acid more time than its energy alone would take", () => {
    const netW = new Array<number>(24).fill(3000);
    const common = {
      netW,
      slotH: 0.25,
      floorFraction: 0.5,
      targetFraction: 0.98,
      ceilingFraction: 1,
    };
    const curveOf = (battery: ReturnType<typeof lfpBattery>) =>
      curveFractions({
        ...common,
        battery: {
          capacityWh: 20_000,
          voltageShare: 1,
          storedShare: () => 0.9,
          dischargeEfficiency: 1,
          acceptance: acceptanceTable(battery, NOTHING_SEEN),
        },
      });
    expect(curveOf(floodedBattery())[8]).toBeGreaterThan(curveOf(lfpBattery())[8]! + 0.1);
  });
});

describe("the path", () => {
  it("never leaves 0 … 1", () => {
    fc.assert(
      fc.property(input, fc.integer({ min: 0, max: 100 }), (given, percent) => {
        for (const fraction of pathFractions(percent / 100, given)) {
          expect(fraction).toBeGreaterThanOrEqual(0);
          expect(fraction).toBeLessThanOrEqual(1);
        }
      }),
    );
  });
});

describe("what a battery accepts", () => {
  it("never rises towards full, whatever was seen", () => {
    fc.assert(
      fc.property(
        chemistry,
        fc.array(fc.tuple(fc.integer({ min: 0, max: 100 }), fc.integer({ min: 0, max: 9000 }))),
        (battery, looks) => {
          let seen = NOTHING_SEEN;
          for (const [percent, powerW] of looks)
            seen = learnAcceptance(seen, percent / 100, powerW);
          const table = acceptanceTable(battery, seen);
          for (let percent = 50; percent < 100; percent += 0.5) {
            const here = acceptedW(table, percent / 100);
            expect(here).toBeGreaterThanOrEqual(acceptedW(table, (percent + 0.5) / 100));
          }
        },
      ),
    );
  });

  it("is the charge limit far from full, and what was seen near it", () => {
    const battery = floodedBattery({ chargeLimitA: 80, nominalVoltageV: 48 });
    expect(acceptedW(acceptanceTable(battery, NOTHING_SEEN), 0.5)).toBeCloseTo(80 * 48 * 1.08, 6);
    const seen = learnAcceptance(learnAcceptance(NOTHING_SEEN, 0.95, 500), 0.95, 400);
    // A tenth of the way from the first look to the second.
    expect(acceptedW(acceptanceTable(battery, seen), 0.95)).toBeCloseTo(490, 6);
    expect(learnAcceptance(seen, 0.5, 500)).toBe(seen);
    expect(learnAcceptance(seen, 0.95, -1)).toBe(seen);
    expect(learnAcceptance(seen, 1, 77).at(-1)).toBe(77);
  });

  it("without a charge limit begins at the table's first step", () => {
    const battery = floodedBattery({ chargeLimitA: null });
    const table = acceptanceTable(battery, NOTHING_SEEN);
    const first = table.stepsW[0] ?? 0;
    expect(first).toBeLessThan(battery.capacityAh * 48);
    for (const fraction of [0.795, 0.8, 0.809]) expect(acceptedW(table, fraction)).toBe(first);
  });
});
