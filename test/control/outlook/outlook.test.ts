/** The outlook as a site lives with it: what it learns, when it is used, what it then allows. */
import { describe, expect, it } from "vitest";
import { explainSite, explainVerdict } from "../../../service/control/explain.ts";
import { restoreMemory } from "../../../service/control/restored-memory.ts";
import { initialMemory } from "../../../service/control/memory.ts";
import { clearPowerW } from "../../../service/control/outlook/clear-days.ts";
import type { Observation } from "../../../service/control/observation.ts";
import { step } from "../../../service/control/step.ts";
import { floodedBattery, fresh, lfpBattery, load, lost, site } from "../given.ts";
import { DAY_MINUTES, liveIn, outlookSite } from "./given.ts";
import type { Minute } from "./given.ts";

const always = (value: number) => () => value;
const CLEAR_DAYS = { clearness: always(0.9), baseW: always(300) };

function at(lived: readonly Minute[], day: number, hour: number): Minute {
  return lived[day * DAY_MINUTES + hour * 60]!;
}

/** Five clear days in midsummer, and the same with the fixed curve. */
const lived = liveIn(outlookSite(), 5 * DAY_MINUTES, CLEAR_DAYS);

describe("at first", () => {
  it("the fixed curve is in use until every hour was seen twice", () => {
    expect(at(lived, 1, 12).decision.site).toMatchObject({
      outlook: null,
      ruleCurveFraction: 0.94,
    });
    expect(at(lived, 2, 12).decision.site.outlook).not.toBeNull();
  });

  it("everyday use is learned at the battery bus", () => {
    const { meanW } = lived.at(-1)!.memory.outlook.base;
    for (const powerW of meanW) expect(powerW).toBeCloseTo(300 / 0.92 + 35, 3);
  });

  it("a site under the fixed curve learns the same and plans nothing", () => {
    const fixed = liveIn(site(), 3 * DAY_MINUTES, CLEAR_DAYS).at(-1)!;
    expect(fixed.memory.outlook.plan).toBeNull();
    expect(fixed.decision.site.outlook).toBeNull();
    expect(fixed.memory.outlook.base.meanW[3]).toBeCloseTo(300 / 0.92 + 35, 3);
    expect(fixed.memory.outlook.sky.days).toHaveLength(3);
  });
});

describe("what nobody knows of a load", () => {
  const sockets = {
    maximumW: 1000,
    warnMs: 0,
    finishGraceMs: 0,
    hasRequest: false,
    requestMs: 0,
  };
  /** On from morning on, except for the last minutes of each hour after noon. */
  function meansW(actualW: number): readonly number[] {
    const settings = outlookSite({ loads: [load({ stagesW: [1000], sockets, minRunMs: 0 })] });
    const days = liveIn(settings, 4 * DAY_MINUTES, {
      ...CLEAR_DAYS,
      startFraction: 0.97,
      over: (seen, minute) => {
        const { value } = seen.inverter.powerW;
        const isOn = value > 1000;
        const minuteOfDay = minute % DAY_MINUTES;
        const isRequested = minuteOfDay < 12 * 60 || minuteOfDay % 60 < 30;
        const [first] = seen.loads;
        return {
          ...seen,
          inverter: { ...seen.inverter, powerW: fresh(isOn ? value - 1000 + actualW : value) },
          loads: [
            { ...first!, request: isRequested ? "release" : "hold", requestForMs: 3_600_000 },
          ],
        };
      },
    });
    const noon = days.filter(({ minute }) => minute % DAY_MINUTES === 11 * 60 + 30);
    expect(noon.at(-1)!.decision.loadStages).toEqual([1]);
    return days.at(-1)!.memory.outlook.base.meanW;
  }

  it("counts neither as everyday use nor against it, as far as other minutes tell", () => {
    const quietW = 300 / 0.92 + 35;
    for (const actualW of [0, 1000]) {
      const meanW = meansW(actualW);
      // Half of the hour without it tells all.
      for (const hour of [2, 13, 14, 15]) expect(meanW[hour]).toBeCloseTo(quietW, 3);
      // Never without it: between all of it and nothing, and nearer to all of it.
      const leastW = Math.max(0, quietW - (1000 - actualW) / 0.92);
      const mostW = quietW + actualW / 0.92;
      expect(meanW[11]).toBeCloseTo(leastW + 0.2 * (mostW - leastW), 3);
    }
  });
});

describe("by day", () => {
  it("the curve falls far below the target on a clear morning and is back at it by sunset", () => {
    const morning = at(lived, 4, 9).decision.site;
    expect(morning.ruleCurveFraction).toBeLessThan(0.7);
    expect(morning.ruleCurveFraction).toBeGreaterThanOrEqual(0.6);
    const evening = lived
      .slice(4 * DAY_MINUTES)
      .filter(({ decision }) => decision.site.isDaylight === true)
      .at(-1)!;
    expect(evening.decision.site.ruleCurveFraction).toBeGreaterThan(0.93);
    expect(evening.socFraction).toBeGreaterThanOrEqual(0.9);
  });

  it("expects what came on the days before, and less of it on the cautious side", () => {
    const { outlook } = at(lived, 4, 9).decision.site;
    const { expectedWh, cautiousWh, baseWh, sunsetSocFraction, isCompleting } = outlook!;
    let cameWh = 0;
    for (const { minute } of lived.slice(4 * DAY_MINUTES + 9 * 60)) {
      cameWh += clearW(minute) / 60;
    }
    expect(Math.abs(expectedWh / cameWh - 1)).toBeLessThan(0.25);
    expect(cautiousWh).toBeLessThan(expectedWh);
    expect(baseWh).toBeGreaterThan(0);
    expect(sunsetSocFraction).toBeGreaterThan(0.95);
    expect(isCompleting).toBe(false);
  });

  function clearW(minute: number): number {
    const { decision } = lived[minute]!;
    return decision.site.isDaylight === true ? 0.9 * lastClearW(minute) : 0;
  }

  function lastClearW(minute: number): number {
    const { clearDays } = lived[minute]!.memory.outlook;
    return clearDays!.today.powerW[Math.floor((minute % DAY_MINUTES) / 15)]!;
  }

  it("says in words what the curve rests on", () => {
    const { decision } = at(lived, 4, 9);
    expect(explainSite(decision.site)).toMatch(
      /rule curve 6\d\.\d %.*, \d+\.\d\d kWh more are expected before sunset, on the cautious side/,
    );
    const waiting = { code: "waiting-band", stage: 0, measured: 0.81, limit: 0.83 } as const;
    expect(explainVerdict({ ...waiting, remainingMs: null }, decision.site)).toMatch(
      /starts from 83\.0 % now, because \d+\.\d\d kWh more are expected before sunset, on the/,
    );
  });

  it("a load that waits for the band is told when it is likely to start", () => {
    const low = liveIn(outlookSite(), 4 * DAY_MINUTES, {
      clearness: always(0.45),
      baseW: always(700),
      startFraction: 0.62,
    });
    const day = low.slice(3 * DAY_MINUTES + 7 * 60);
    const waits = day.find(({ decision }) => decision.verdicts[0]!.code === "waiting-band")!;
    const runs = day.find(({ decision }) => decision.loadStages[0] !== 0)!;
    const { remainingMs } = waits.decision.verdicts[0]!;
    const cameMs = (runs.minute - waits.minute) * 60_000;
    expect(cameMs).toBeGreaterThan(20 * 60_000);
    expect(Math.abs(remainingMs! - cameMs)).toBeLessThan(2 * 3_600_000);
  });
});

describe("a forecast", () => {
  /** Clear and dull days by turns that nobody could guess from the days before. */
  const DULL = [0, 2, 3, 6, 7, 9, 13, 14, 15, 18, 20];
  const isDull = (minute: number) => DULL.includes(Math.floor(minute / DAY_MINUTES));
  const DAYS = 22;

  /** What is expected before the sun counts, on a dull day and on the clear one after it. */
  function mornings(forecast: (isDullDay: boolean) => number | null) {
    const days = liveIn(outlookSite(), DAYS * DAY_MINUTES, {
      clearness: (minute) => (isDull(minute) ? 0.3 : 0.95),
      baseW: () => 700,
      over: (seen, minute) => {
        const says = forecast(isDull(minute));
        const ageMs = Math.max(0, seen.localMinute - 60) * 60_000;
        if (says === null || seen.localMinute < 60) return seen;
        const todayWh = { ...fresh(says), ageMs };
        return { ...seen, forecast: { ...seen.forecast, todayWh } };
      },
    });
    const [dull, clear] = [20, 21].map((one) => at(days, one, 5).decision.site.outlook!);
    return { dull: dull!, clear: clear!, sky: days.at(-1)!.memory.outlook.sky };
  }

  const without = mornings(() => null);

  it("that was right so far tells a dull morning from a clear one", () => {
    expect(without.clear.expectedWh / without.dull.expectedWh).toBeLessThan(1.2);
    const { dull, clear, sky } = mornings((isDullDay) => (isDullDay ? 8000 : 30_000));
    expect(clear.expectedWh / dull.expectedWh).toBeGreaterThan(2);
    expect(clear.cautiousWh).toBeGreaterThan(1.5 * without.clear.cautiousWh);
    expect(dull.expectedWh).toBeLessThan(0.8 * without.dull.expectedWh);
    expect(sky.days.every(({ forecast }) => forecast !== null)).toBe(true);
  });

  it("that says the same every day changes nothing", () => {
    const same = mornings(() => 20_000);
    expect(same.dull).toEqual(without.dull);
    expect(same.clear).toEqual(without.clear);
  });
});

describe("by night", () => {
  it("the curve is the floor and the use until morning, without a step at midnight", () => {
    const before = lived[4 * DAY_MINUTES - 1]!.decision.site.ruleCurveFraction;
    const after = lived[4 * DAY_MINUTES + 1]!.decision.site.ruleCurveFraction;
    expect(Math.abs(before - after)).toBeLessThan(0.004);
    expect(after).toBeGreaterThan(0.63);
    expect(after).toBeLessThan(0.8);
  });

  it("nights of reserve raise it, but never over the target", () => {
    const kept = (reserveNights: number) => {
      const battery = lfpBattery({ sunsetTargetFraction: 0.9, reserveNights });
      const days = liveIn(outlookSite({ battery }), 3 * DAY_MINUTES, CLEAR_DAYS);
      return at(days, 2, 10).decision.site.ruleCurveFraction;
    };
    expect(kept(1)).toBeGreaterThan(kept(0) + 0.05);
    expect(kept(10)).toBeCloseTo(0.94, 12);
  });
});

describe("in doubt", () => {
  const inDoubt = (minute: number) => minute >= 4 * DAY_MINUTES + 600;
  const doubtful = liveIn(outlookSite(), 4 * DAY_MINUTES + 620, {
    ...CLEAR_DAYS,
    over: (seen, minute) => (inDoubt(minute) ? { ...seen, isWallClockPlausible: false } : seen),
  });

  it("of the clock, the fixed curve is in use and nothing is learned", () => {
    const last = doubtful.at(-1)!;
    expect(last.decision.site).toMatchObject({ outlook: null, ruleCurveFraction: 0.94 });
    expect(last.memory.outlook.plan).toBeNull();
    expect(last.memory.outlook.base).toBe(doubtful[4 * DAY_MINUTES + 599]!.memory.outlook.base);
    expect(last.memory.outlook).toBe(doubtful.at(-2)!.memory.outlook);
  });

  it("of the state of charge there is no plan", () => {
    const blind = liveIn(outlookSite(), 3 * DAY_MINUTES, {
      ...CLEAR_DAYS,
      over: (seen) => ({
        ...seen,
        battery: { ...seen.battery, socFraction: lost(0.8), currentA: lost(0) },
      }),
    });
    expect(blind.at(-1)!.memory.outlook.plan).toBeNull();
  });

  it("of the arrays or beside a generator nothing is learned of the sky", () => {
    const { memory } = liveIn(outlookSite(), DAY_MINUTES, {
      ...CLEAR_DAYS,
      over: (seen) => ({
        ...seen,
        sources: seen.sources.map((source) => ({ ...source, powerW: lost(3000) })),
      }),
    }).at(-1)!;
    expect(memory.outlook.sky.days).toEqual([]);
    const beside = liveIn(outlookSite(), DAY_MINUTES, {
      ...CLEAR_DAYS,
      over: (seen) => ({ ...seen, isGeneratorRunning: fresh(true) }),
    }).at(-1)!;
    expect(beside.memory.outlook.sky.days).toEqual([]);
  });

  it("where the sun does not set there is no plan", () => {
    const polar = outlookSite({ latitudeDeg: 78 });
    const { memory, decision } = liveIn(polar, 3 * DAY_MINUTES, CLEAR_DAYS).at(-1)!;
    expect(memory.outlook.plan).toBeNull();
    expect(decision.site.outlook).toBeNull();
  });
});

describe("what else is looked at", () => {
  it("hydro and wind are expected to go on, with what their dumps burn", () => {
    const sources = [
      ...site().sources,
      { id: "creek", kind: "hydro" as const, peakW: 500 },
      { id: "mast", kind: "wind" as const, peakW: 500 },
    ];
    const { memory } = liveIn(outlookSite({ sources }), 3 * DAY_MINUTES, {
      ...CLEAR_DAYS,
      over: (seen) => ({
        ...seen,
        sources: [
          seen.sources[0]!,
          { ...seen.sources[0]!, powerW: fresh(200), dumpPowerW: fresh(50) },
          { ...seen.sources[0]!, powerW: lost(999) },
        ],
      }),
    }).at(-1)!;
    expect(memory.outlook.steadyW).toBeCloseTo(250, 0);
  });

  it("a current limit of the charge controller caps what is expected", () => {
    const [roof] = site().sources;
    const sources = [{ ...roof!, kind: "array" as const, tiltDeg: 38, azimuthDeg: 172 }].map(
      (array) => ({ ...array, currentLimitA: 40 }),
    );
    const { memory } = liveIn(outlookSite({ sources }), 60, CLEAR_DAYS).at(-1)!;
    expect(Math.max(...memory.outlook.clearDays!.today.powerW)).toBe(Math.round(40 * 51.2));
  });

  it("beyond tomorrow nothing is known of the sun", () => {
    const days = lived[600]!.memory.outlook.clearDays!;
    expect(clearPowerW(days, 48)).toBeGreaterThan(1000);
    expect(clearPowerW(days, 96 + 48)).toBeGreaterThan(1000);
    expect(clearPowerW(days, 2 * 96 + 48)).toBe(0);
  });

  it("before a full charge is due the target is full, and absorption does not wait", () => {
    const battery = floodedBattery({ sunsetTargetFraction: 0.9, fullChargeEveryDays: 4 });
    const days = liveIn(outlookSite({ battery, loads: [load()] }), 5 * DAY_MINUTES, {
      clearness: (minute) => (minute < 3 * DAY_MINUTES ? 0.15 : 0.9),
      baseW: always(200),
      startFraction: 0.7,
    });
    expect(at(days, 2, 12).decision.site.outlook?.isCompleting).toBe(true);
    expect(Math.max(...at(days, 2, 12).memory.outlook.plan!.curve)).toBe(0.985);
    // It was full on the day after: the next full charge is four days off.
    expect(at(days, 4, 12).decision.site.outlook?.isCompleting).toBe(false);
  });

  it("lithium is to be quite full then, in good time before sunset", () => {
    const battery = lfpBattery({ sunsetTargetFraction: 0.9, fullChargeEveryDays: 2 });
    const days = liveIn(outlookSite({ battery }), 3 * DAY_MINUTES, {
      clearness: always(0.15),
      baseW: always(200),
      startFraction: 0.7,
    });
    expect(at(days, 2, 12).memory.outlook.plan!.curve.at(-1)).toBe(1);
  });
});

describe("after a restart", () => {
  const settings = outlookSite();
  const last = lived.at(-1)!;
  const times = { nowMs: 5, wallMs: 2e12, savedWallMs: 2e12, isWallClockPlausible: true };

  function restored(change: (outlook: object) => unknown) {
    const saved: unknown = JSON.parse(
      JSON.stringify({ ...last.memory, outlook: change(last.memory.outlook) }),
    );
    return restoreMemory(saved, settings, times).outlook;
  }

  it("what was learned is there; the plan is made anew at the first tick", () => {
    const outlook = restored((before) => before);
    const { base, sky, acceptance, steadyW } = last.memory.outlook;
    expect(outlook.base).toEqual(base);
    expect(outlook.sky).toEqual({ ...sky, today: null });
    expect(outlook.acceptance).toEqual(acceptance);
    expect(outlook.steadyW).toBe(steadyW);
    expect(outlook.plan).toBeNull();
    const seen: Observation[] = [];
    liveIn(settings, 1, {
      ...CLEAR_DAYS,
      over: (observation) => {
        seen.push(observation);
        return observation;
      },
    });
    const memory = { ...initialMemory(settings, 0), outlook };
    expect(step(memory, seen[0]!, settings).memory.outlook.plan).not.toBeNull();
  });

  it("a memory of before there was an outlook begins anew", () => {
    expect(restored(() => null)).toEqual(initialMemory(settings, 5).outlook);
  });

  it("nonsense is left out, part by part", () => {
    const blank = initialMemory(settings, 5).outlook;
    const { base, sky } = last.memory.outlook;
    for (const key of ["meanW", "spreadW", "seen", "weekdayW", "weekdaySeen"]) {
      expect(restored((now) => ({ ...now, base: { ...base, [key]: [1, "x"] } })).base).toEqual(
        blank.base,
      );
    }
    const day = sky.days[0]!;
    const odd = [
      { ...day, localDay: "x" },
      { ...day, clearness: [1, 2, 3] },
      { ...day, clearness: day.clearness.map(() => 7) },
      { ...day, localDay: day.localDay - 2, forecast: -1 },
      { ...day, localDay: day.localDay - 1, forecast: "x" },
      { ...day, forecast: 0.5 },
      { ...day, localDay: day.localDay - 3 },
    ];
    const outlook = restored((now) => ({
      ...now,
      steadyW: -5,
      acceptance: [1],
      sky: { days: odd, tailShift: 9 },
    }));
    const days = [
      { ...day, localDay: day.localDay - 2 },
      { ...day, localDay: day.localDay - 1 },
      { ...day, forecast: 0.5 },
    ];
    expect(outlook.sky).toEqual({ days, today: null, tailShift: 0 });
    expect(outlook.steadyW).toBe(0);
    expect(outlook.acceptance).toEqual(blank.acceptance);
    const mended = restored((now) => ({
      ...now,
      steadyW: "x",
      acceptance: blank.acceptance.map((_, place) => (place === 0 ? "x" : place === 1 ? -1 : 500)),
      sky: { days: "x", tailShift: "x" },
    }));
    expect(mended.acceptance.slice(0, 3)).toEqual([null, null, 500]);
    expect(mended.sky).toEqual({ days: [], today: null, tailShift: 0 });
  });
});
