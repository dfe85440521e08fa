/** How full the battery may be kept at no cost: worked by hand, and what holds whatever comes. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  acceptanceTable,
  acceptedW,
  fractionAccepting,
  NOTHING_SEEN,
} from "../../../service/control/outlook/acceptance-table.ts";
import { keptFractions } from "../../../service/control/outlook/kept-charge.ts";
import { wantsOf } from "../../../service/control/outlook/loads-want.ts";
import { initialMemory } from "../../../service/control/memory.ts";
import type { LoadSettings } from "../../../service/control/settings.ts";
import {
  floodedBattery,
  fresh,
  lfpBattery,
  load,
  loadObservation,
  observe,
  site,
} from "../given.ts";

const BATTERY = {
  capacityWh: 20_000,
  voltageShare: 1,
  acceptance: acceptanceTable(
    lfpBattery({ capacityAh: 400, nominalVoltageV: 50, chargeLimitA: null }),
    NOTHING_SEEN,
  ),
};

function kept(netW: readonly number[], wants: Parameters<typeof keptFractions>[0]["wants"]) {
  return keptFractions({ netW, slotH: 1, battery: BATTERY, wants });
}

/** 0.7 of 2 kW are taken over a day: 1.4 kW. */
const HEATER = { powerW: 2000, energyWh: 100_000 };

describe("room is left", () => {
  it("for what the loads cannot take, and for no more", () => {
    // 600 Wh over in the second hour, of 20 kWh; past 99 % the table says nothing.
    const fractions = kept([1400, 2000, 1000], [HEATER]);
    expect(fractions).toEqual([0.96, 0.96, 1].map((fraction) => expect.closeTo(fraction, 9)));
  });

  it("for nothing where the loads can follow the sun", () => {
    expect(kept([1000, 1300, 1400, -500], [HEATER])).toEqual([1, 1, 1, 1]);
  });

  it("only until every load that can be sated is", () => {
    // Sated with 1.4 kWh after the first hour: what comes in the second is of use to nobody.
    const sated = { powerW: 2000, energyWh: 1400 };
    expect(kept([1400, 5000], [sated])).toEqual([1, 1]);
  });

  it("for the hours that a load which is never sated might run now", () => {
    // 350 W of 500: as much later as now, however much more comes.
    const endless = { powerW: 500, energyWh: Infinity };
    expect(kept([5000, 5000], [endless])[0]).toBeCloseTo(0.99 - 700 / 20_000, 9);
    expect(kept([450, 300], [endless])[0]).toBeCloseTo(0.99 - 100 / 20_000, 9);
    expect(kept([5000], [])).toEqual([1]);
  });

  it("below where the battery still accepts what comes", () => {
    const flooded = floodedBattery({ capacityAh: 400, nominalVoltageV: 50, chargeLimitA: null });
    const acceptance = acceptanceTable(flooded, NOTHING_SEEN);
    const battery = { ...BATTERY, acceptance };
    const [before] = keptFractions({ netW: [3400], slotH: 1, battery, wants: [HEATER] });
    const accepting = fractionAccepting(acceptance, 2000);
    expect(acceptedW(acceptance, accepting)).toBeGreaterThanOrEqual(2000);
    expect(acceptedW(acceptance, accepting + 0.02)).toBeLessThan(2000);
    expect(before).toBeCloseTo(accepting - 0.1, 9);
    expect(fractionAccepting(acceptance, 1e8)).toBe(0.8);
  });

  it("never less for more sun, whatever the loads", () => {
    const powers = fc.array(fc.integer({ min: -1000, max: 6000 }), { minLength: 1, maxLength: 40 });
    const wants = fc.array(
      fc.record({
        powerW: fc.integer({ min: 100, max: 3000 }),
        energyWh: fc.constantFrom(50_000, Infinity),
      }),
      { maxLength: 3 },
    );
    fc.assert(
      fc.property(powers, wants, fc.nat(2000), (netW, given, moreW) => {
        const sunnier = kept(
          netW.map((powerW) => powerW + moreW),
          given,
        );
        for (const [place, fraction] of kept(netW, given).entries()) {
          expect(fraction).toBeLessThanOrEqual(1);
          expect(fraction).toBeGreaterThanOrEqual(0);
          // Loads of 50 kWh are not sated in these days: more sun is more that they cannot take.
          if (netW.length <= 8) expect(sunnier[place]!).toBeLessThanOrEqual(fraction + 1e-9);
        }
      }),
    );
  });
});

describe("what a load still wants", () => {
  const want = (over: Partial<LoadSettings>, tankC = 48, change: object = {}) => {
    const settings = site({ loads: [load(over)] });
    const [memory] = initialMemory(settings, 0).loads;
    const observation = observe(settings, 0, {
      loads: [loadObservation({ tankTemperatureC: fresh(tankC) })],
    });
    return wantsOf([{ ...memory!, ...change }], observation, settings)[0]!;
  };
  const tank = { surplusC: 68, hysteresisK: 5, limitC: 75, volumeL: 200 };
  const bare = { stagesW: [1000, 2000], quotaRunMs: null, quotaEnergyWh: null, tank: null };

  it("is as much as there is, without quota or tank", () => {
    const { powerW, energyWh } = want(bare);
    expect(powerW).toBeCloseTo(2000 / 0.92, 9);
    expect(energyWh).toBe(Infinity);
  });

  it("is the rest of its quota, or the heat that its tank lacks, whichever ends first", () => {
    const hour = { ...bare, quotaRunMs: 2 * 3_600_000 };
    expect(want(hour, 48, { ranTodayMs: 3_600_000 }).energyWh).toBeCloseTo(2000 / 0.92, 6);
    expect(want({ ...hour, quotaEnergyWh: 500 }).energyWh).toBeCloseTo(500 / 0.92, 6);
    // 20 K in 200 L at 1.151 Wh/(L K).
    const heat = want({ ...bare, tank }, 48, { wantsHeat: true }).energyWh;
    expect(heat * 0.92).toBeCloseTo(4605, -1);
    expect(
      want({ ...bare, tank: { ...tank, volumeL: null } }, 48, { wantsHeat: true }).energyWh,
    ).toBe(Infinity);
    expect(want({ ...bare, tank }, 69, { wantsHeat: true }).energyWh).toBe(0);
  });

  it("is nothing once it has what it wants", () => {
    expect(want({ ...bare, quotaEnergyWh: 500 }, 48, { usedTodayWh: 500 }).energyWh).toBe(0);
    expect(want({ ...bare, tank }, 67, { wantsHeat: false }).energyWh).toBe(0);
  });
});
