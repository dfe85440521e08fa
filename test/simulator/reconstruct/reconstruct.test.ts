import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { loadSite } from "../../../config/load.ts";
import { UserError } from "../../../service/errors.ts";
import { INFERRED_COLUMN } from "../../../simulator/days/day-file.ts";
import type { DaySeries } from "../../../simulator/days/day-file.ts";
import { plantSettings } from "../../../simulator/plant/plant-settings.ts";
import { certainRows } from "../../../simulator/reconstruct/certain-rows.ts";
import { everydayUse } from "../../../simulator/reconstruct/everyday-use.ts";
import { isThrottled, reconstructDays } from "../../../simulator/reconstruct/reconstruct-days.ts";
import { withRange } from "../../../simulator/reconstruct/with-range.ts";
import type { SkyKind } from "../../../simulator/weather/cloud.ts";
import { createRandom } from "../../../simulator/weather/random.ts";
import { syntheticDay } from "../../../simulator/weather/synthetic-day.ts";
import { replayed, throttledRecord } from "./throttled-record.ts";

const MALGA = new URL("../../../config/examples/malga.yaml", import.meta.url).pathname;
const DAY_MS = 86_400_000;

const site = loadSite({ path: MALGA });
/** Lower in charge, ten times the tank, the pump all day: nearly all that there is can be used. */
const thirsty = loadSite({
  path: MALGA,
  overrides: [
    "ruleCurve.at=86 %",
    "loads.water-heater.tank.volume=2000 L",
    "loads.spring-pump.quota.atMost=8 h",
  ],
});
const earlier = loadSite({ path: MALGA, overrides: ["ruleCurve.at=84 %"] });

interface Scene {
  readonly seed: number;
  readonly from: string;
  readonly count: number;
  readonly kinds: readonly SkyKind[];
}

/** A shed that differs from its settings by haze, ridges and the arrays' direction, all drawn. */
function scene({ seed, from, count, kinds }: Scene) {
  const random = createRandom(seed);
  const ridge = (fromDeg: number, toDeg: number) => ({
    fromDeg,
    toDeg,
    altitudeDeg: random.between(5, 14),
  });
  const obstruction = {
    hazeFraction: random.between(0, 0.1),
    horizon: [ridge(60, 120), ridge(220, 255)],
  };
  const turn = { tiltDeg: random.between(-7, 7), azimuthDeg: random.between(-9, 9) };
  const days = Array.from({ length: count }, (_, day) => {
    const localDate = new Date(Date.parse(from) + day * DAY_MS).toISOString().slice(0, 10);
    const kind = kinds[Math.floor(random.uniform() * kinds.length)] ?? "clear";
    return syntheticDay({ site, localDate, seed: seed * 1000 + day, kind });
  });
  const plantOf = (settings: typeof site) => {
    const plain = plantSettings(settings);
    const arrays = plain.arrays.map((array) => ({
      ...array,
      tiltDeg: array.tiltDeg + turn.tiltDeg,
      azimuthDeg: array.azimuthDeg + turn.azimuthDeg,
    }));
    return { ...plain, arrays, obstruction };
  };
  const recorded = throttledRecord({ site, days, plant: plantOf(site) });
  const ends = reconstructDays([recorded.series], site);
  return { ...recorded, days, plantOf, ends };
}

function potentialOf([series]: readonly DaySeries[]): Float64Array {
  return series?.columns.get("pv_potential_w") ?? new Float64Array();
}

function sum(values: Float64Array): number {
  return values.reduce((total, value) => total + value, 0);
}

const FROM = ["2025-06-12", "2025-05-03", "2025-07-20", "2025-09-02", "2025-04-10"];
const SKIES: readonly Pick<Scene, "count" | "kinds">[] = [
  { count: 1, kinds: ["clear"] },
  { count: 1, kinds: ["broken"] },
  { count: 3, kinds: ["clear", "broken"] },
  { count: 7, kinds: ["clear", "broken", "overcast"] },
];
const SEEDS = Array.from({ length: 8 }, (_, i) => 21 + i);

function sceneOf(seed: number) {
  const sky = SKIES[seed % SKIES.length] ?? { count: 1, kinds: ["clear"] };
  return scene({ seed, from: FROM[seed % FROM.length] ?? "2025-06-12", ...sky });
}

/** The other settings on reconstructed days, and what the shed would really have done. */
function outcomeOf(made: ReturnType<typeof scene>, other: typeof site) {
  const truth = replayed({ site: other, days: made.days, plant: made.plantOf(other) }).totals;
  const replayOf = (days: readonly DaySeries[]) => replayed({ site: other, days, plant: null });
  const { low, middle, high } = made.ends;
  const ends = { low: replayOf(low), high: replayOf(high) };
  return { truth, ...withRange(replayOf(middle), ends) };
}

/** Of the nearest rank. */
function median(values: readonly number[]): number {
  return values.toSorted((one, other) => one - other)[Math.floor(values.length / 2)] ?? NaN;
}

describe("eight recordings of sheds that differ from their settings", () => {
  const scenes = SEEDS.map(sceneOf);

  // docs/reconstruction.md has these figures.
  test.each([
    { name: "the curve lower", other: earlier, worst: 0.03, usual: 0.005 },
    { name: "nearly all can be used", other: thirsty, worst: 0.05, usual: 0.015 },
  ])(
    "$name: diverted as the shed would have, and within the range",
    ({ other, worst, usual }) => {
      const outcomes = scenes.map((made) => outcomeOf(made, other));
      const errors = outcomes.map(({ truth, totals }) =>
        Math.abs(totals.divertedWh / truth.divertedWh - 1),
      );
      expect(Math.max(...errors)).toBeLessThan(worst);
      expect(median(errors)).toBeLessThan(usual);
      const isCovered = (key: "divertedWh" | "potentialWh"): number =>
        outcomes.filter(({ truth, range }) => {
          const { low, high } = range ?? { low: truth, high: truth };
          return range !== null && low[key] <= truth[key] && truth[key] <= high[key];
        }).length;
      expect(isCovered("divertedWh")).toBe(SEEDS.length);
      expect(isCovered("potentialWh")).toBeGreaterThanOrEqual(SEEDS.length - 1);
      for (const { totals } of outcomes) {
        expect(totals.reconstructedFraction).toBeGreaterThan(0.05);
        expect(totals.reconstructedFraction).toBeLessThan(0.7);
      }
    },
    120_000,
  );

  test("of what was hidden as much is found as there was, within a tenth in the middle", () => {
    const found = scenes.map(({ series, truthW, ends }) => {
      const measured = sum(series.columns.get("pv_power_w") ?? new Float64Array());
      return (sum(potentialOf(ends.middle)) - measured) / (sum(truthW) - measured);
    });
    expect(Math.abs(median(found) - 1)).toBeLessThan(0.1);
    expect(Math.min(...found)).toBeGreaterThan(0.45);
    expect(Math.max(...found)).toBeLessThan(1.3);
  });

  test.each(SEEDS.slice(0, 4))("%i: never below what was measured, certain rows exact", (seed) => {
    const { series, truthW, ends } = sceneOf(seed);
    const certain = certainRows(series, site);
    const [low, middle, high] = [ends.low, ends.middle, ends.high].map(potentialOf);
    const inferred = ends.middle[0]?.columns.get(INFERRED_COLUMN) ?? [];
    let certainCount = 0;
    for (const [row, powerW] of (series.columns.get("pv_power_w") ?? []).entries()) {
      const [lowW = NaN, middleW = NaN, highW = NaN] = [low?.[row], middle?.[row], high?.[row]];
      expect(lowW).toBeGreaterThanOrEqual(powerW);
      expect(middleW).toBeGreaterThanOrEqual(lowW);
      expect(highW).toBeGreaterThanOrEqual(middleW);
      if (certain?.[row] !== 1) continue;
      expect(highW).toBe(powerW);
      expect(inferred[row]).toBe(0);
      // …and the plant's own truth says the same.
      expect(Math.abs((truthW[row] ?? 0) - powerW)).toBeLessThan(1 + 0.002 * powerW);
      if (powerW > 100) certainCount += 1;
    }
    expect(certainCount).toBeGreaterThan(100);
  });
});

const MINUTE = 60_000;
const NOON_MS = Date.parse("2025-06-12T10:00:00Z");

/** Minutes from noon on. */
function minutes(columns: Readonly<Record<string, readonly number[]>>): DaySeries {
  const count = Object.values(columns)[0]?.length ?? 0;
  return {
    name: "noon.csv",
    site: null,
    source: null,
    place: null,
    stepMs: MINUTE,
    timesMs: Float64Array.from({ length: count }, (_, row) => NOON_MS + row * MINUTE),
    columns: new Map(Object.entries(columns).map(([key, list]) => [key, Float64Array.from(list)])),
    gaps: [],
  };
}

function certainOf(columns: Readonly<Record<string, readonly number[]>>): readonly number[] | null {
  const found = certainRows(minutes(columns), site);
  return found === null ? null : [...found];
}

describe("certain rows, by hand", () => {
  test("bulk, unless a neighbour is not or the voltage nears the set-point", () => {
    const columns = { charge_stage: [0, 0, 0, 1, 0, 0, 0], pv_power_w: [1, 1, 1, 1, 1, 1, 1] };
    expect(certainOf(columns)).toEqual([1, 1, 0, 0, 0, 1, 1]);
    // Absorption at 55.2 V.
    const voltages = { ...columns, battery_voltage_v: [53, 55.1, 53, 55.2, 53, 53, NaN] };
    expect(certainOf(voltages)).toEqual([1, 0, 0, 0, 0, 1, 1]);
  });

  test("bulk, but nothing flows: the battery may refuse it", () => {
    const columns = { charge_stage: [0, 0, 0], battery_voltage_v: [53, 53, 53] };
    const flowing = { ...columns, battery_current_a: [30, 0, -0.1] };
    expect(certainOf(flowing)).toEqual([1, 0, 0]);
    // Not when it is half empty, unless it is too cold.
    expect(certainOf({ ...flowing, battery_soc_percent: [60, 60, 60] })).toEqual([1, 1, 1]);
    const cold = { battery_soc_percent: [60, 60, 60], battery_temperature_c: [2, 2, 20] };
    expect(certainOf({ ...flowing, ...cold })).toEqual([1, 0, 1]);
  });

  test("a battery that gives, in whatever stage; little is the meters' difference", () => {
    const stages = { charge_stage: [2, 2, 2], battery_voltage_v: [53, 53, 53] };
    expect(certainOf({ ...stages, battery_current_a: [-20, -0.1, 20] })).toEqual([1, 0, 0]);
    // Float at 54 V: it falls from absorption, and the arrays wait for it.
    const falling = { ...stages, battery_voltage_v: [54.5, 54, 53.5] };
    expect(certainOf({ ...falling, battery_current_a: [-70, -7, -7] })).toEqual([0, 0, 1]);
  });

  test("not while a generator runs, nor ten minutes after", () => {
    const generator_power_w = [...Array<number>(3).fill(900), ...Array<number>(14).fill(0)];
    const charge_stage = generator_power_w.map(() => 0);
    const certain = certainOf({ charge_stage, generator_power_w });
    expect(certain?.indexOf(1)).toBe(12);
    expect(certain?.slice(12)).toEqual([1, 1, 1, 1, 1]);
  });

  test("by the file's own word where there is no other, and by nothing: not at all", () => {
    expect(certainOf({ curtailed: [0, 1, NaN] })).toEqual([1, 0, 0]);
    expect(certainOf({ pv_power_w: [1, 2] })).toBeNull();
  });
});

test("what is a throttled recording, and one that tells nothing is refused with what is missing", () => {
  const pv_power_w = [500, 900];
  expect(isThrottled(minutes({ pv_power_w }))).toBe(true);
  expect(isThrottled(minutes({ pv_power_w, pv_potential_w: [600, 900] }))).toBe(false);
  expect(isThrottled(minutes({ pv_power_w, ghi_w_m2: [600, 900] }))).toBe(false);
  expect(isThrottled(minutes({ pv_power_w: [NaN, NaN] }))).toBe(false);
  const refused = (): unknown => reconstructDays([minutes({ pv_power_w })], site);
  expect(refused).toThrow(UserError);
  expect(refused).toThrow(/noon\.csv[\s\S]*charge_stage/);
});

test("a file that is hidden from its first row to its last has a wide range around the model", () => {
  const pv_power_w = Array<number>(30).fill(400);
  const { low, middle, high } = reconstructDays(
    [minutes({ pv_power_w, charge_stage: pv_power_w.map(() => 2) })],
    site,
  );
  const [lowW, middleW, highW] = [low, middle, high].map((days) => potentialOf(days)[10] ?? NaN);
  // 5.4 kWp at noon in June.
  expect(middleW).toBeGreaterThan(2500);
  expect(lowW).toBeLessThan(0.5 * (middleW ?? NaN));
  expect(highW).toBeGreaterThan(1.3 * (middleW ?? NaN));
});

test("the record's holes stay holes", () => {
  const record = minutes({ pv_power_w: [400, NaN, 400], charge_stage: [2, 2, 2] });
  fc.assert(
    fc.property(fc.constantFrom("low", "middle", "high"), (end) => {
      const made = reconstructDays([record], site)[end === "low" ? "low" : "high"];
      expect(potentialOf(made)[1]).toBeNaN();
      expect(potentialOf(made)[2]).toBeGreaterThanOrEqual(400);
    }),
  );
});

describe("everyday use out of all use", () => {
  // The heater has a meter in the malga's settings, the whey cooler has none.
  const total_load_w = [300, 310, 800, 305, 2300, 300];
  const loads = {
    "load_water-heater_w": [0, 0, 0, 0, 2000, 0],
    "load_whey-cooler_w": [0, 0, 500, 500, 0, 0],
  };

  test("a load without a meter has drawn or not, whichever is nearer to the usual", () => {
    const use = everydayUse(minutes({ total_load_w, ...loads }), site);
    expect([...(use?.likely ?? [])]).toEqual([300, 310, 300, 305, 300, 300]);
    expect([...(use?.most ?? [])]).toEqual([300, 310, 800, 305, 300, 300]);
    expect([...(use?.least ?? [])]).toEqual([300, 310, 300, 0, 300, 300]);
  });

  /** All use of a morning: `usualW` by minute, and the cooler where `isDrawing`. */
  const morning = (
    usualW: (minute: number) => number,
    isDrawing: (minute: number) => boolean,
    allottedW: number,
  ) => {
    const all = Array.from({ length: 120 }, (_, minute) => minute);
    return everydayUse(
      minutes({
        total_load_w: all.map((minute) => usualW(minute) + (isDrawing(minute) ? 500 : 0)),
        "load_whey-cooler_w": all.map((minute) => (minute >= 20 ? allottedW : 0)),
      }),
      site,
    )?.likely;
  };
  const milking = (minute: number): number => (minute >= 40 && minute < 100 ? 1220 : 120);

  test("its own thermostat is seen by its own steps, whatever else comes and goes", () => {
    const found = morning(milking, (minute) => minute >= 20 && minute < 70, 500);
    expect([...(found ?? [])]).toEqual(Array.from({ length: 120 }, (_, i) => milking(i)));
    const idle = morning(milking, () => false, 500);
    expect([...(idle ?? [])]).toEqual([...(found ?? [])]);
  });

  test("it was allotted what it never drew: then the power of the settings tells", () => {
    const found = morning(milking, (minute) => minute >= 20 && minute < 70, 220);
    expect([...(found ?? [])]).toEqual(Array.from({ length: 120 }, (_, i) => milking(i)));
  });

  test("a step in the midst of a minute, and one a minute late", () => {
    const total_load_w = [120, 120, 370, 620, 620, 620, 420, 120, 120];
    const loads = { "load_whey-cooler_w": [0, 250, 500, 500, 500, 500, 500, 500, 0] };
    const likely = everydayUse(minutes({ total_load_w, ...loads }), site)?.likely ?? [];
    expect([...likely].map(Math.round)).toEqual(Array<number>(9).fill(120));
  });

  test("always on: nothing tells, so it has drawn; recorded by itself: nothing to do", () => {
    const always = { total_load_w: [800, 800], "load_whey-cooler_w": [500, 500] };
    expect([...(everydayUse(minutes(always), site)?.likely ?? [])]).toEqual([300, 300]);
    expect(everydayUse(minutes({ total_load_w, base_load_w: total_load_w }), site)).toBeNull();
    expect(everydayUse(minutes({ pv_power_w: [1] }), site)).toBeNull();
  });
});
