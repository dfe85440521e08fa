/**
 * Another way to the best: a dynamic programme that knows the day beforehand and drives the
 * simulated shed itself, from every charge of a grid, through every choice of a quarter of an hour.
 * It shares nothing with the linear programme but the plant and the rules of what is kept.
 */
import { describe, expect, test } from "vitest";
import { loadSite } from "../../../config/load.ts";
import { createLocalCalendar } from "../../../config/local-calendar.ts";
import type { SiteSettings } from "../../../config/site-settings.ts";
import { computeBound } from "../../../simulator/bound/bound.ts";
import { solve } from "../../../simulator/bound/solve.ts";
import type { DaySeries } from "../../../simulator/days/day-file.ts";
import { dayFeed } from "../../../simulator/feed.ts";
import { emptyInput, fillInput } from "../../../simulator/plant-input.ts";
import { createPlant } from "../../../simulator/plant/plant.ts";
import { plantSettings } from "../../../simulator/plant/plant-settings.ts";
import type { PlantSettings } from "../../../simulator/plant/plant-settings.ts";
import { createReference } from "../../../simulator/reference.ts";
import { createRandom } from "../../../simulator/weather/random.ts";
import { daylightOfDay } from "../../../service/solar/daylight.ts";

const EVIDENCE = new URL("../../evidence/", import.meta.url).pathname;
const STAGES = [250, 500, 750, 1000, 1250, 1500, 1750, 2000];
const QUARTERS = 96;
const QUARTER_MS = 900_000;
const START_MS = Date.parse("2025-06-11T22:00:00Z");
const GRID = 120;
const START_FRACTION = 0.85;
/** Of use, for the whole battery's charge under what has to be kept: five times what it holds. */
const SHORT_WH = 115_000;

/** One load of up to 2 kW, all of whose power is of use. */
function oneLoad(file: string, overrides: readonly string[]): SiteSettings {
  const site = loadSite({ path: `${EVIDENCE}${file}`, overrides });
  const load = site.control.loads[1];
  if (load === undefined) throw new Error("the site has a pump");
  const loads = [{ ...load, stagesW: STAGES, quotaRunMs: null }];
  return { ...site, control: { ...site.control, loads } };
}

function plainPlant(site: SiteSettings): PlantSettings {
  const plant = plantSettings(site);
  return { ...plant, loads: plant.loads.map((load) => ({ ...load, store: null })) };
}

/** A day of quarters: sun between 7 and 20 o'clock with clouds, and everyday use, drawn. */
function quarters(seed: number, peakW: number): DaySeries {
  const random = createRandom(seed);
  const column = (of: (row: number) => number) =>
    Float64Array.from({ length: QUARTERS }, (_, row) => of(row));
  const sun = (row: number): number => Math.max(0, Math.sin((Math.PI * (row / 4 - 7)) / 13));
  return {
    name: "quarters",
    site: null,
    source: null,
    place: null,
    stepMs: QUARTER_MS,
    timesMs: column((row) => START_MS + row * QUARTER_MS),
    columns: new Map([
      ["pv_potential_w", column((row) => peakW * sun(row) * random.between(0.3, 1))],
      ["base_load_w", column(() => random.between(80, 500))],
    ]),
    gaps: [],
  };
}

interface Kept {
  /** At the quarter's end. [1] */
  readonly lowest: number;
  readonly mayRun: boolean;
}

function keptOf(site: SiteSettings, plant: PlantSettings, day: DaySeries): readonly Kept[] {
  const { floorFraction, sunsetTargetFraction } = site.control.battery;
  const feed = dayFeed(day, { plant, sitePlace: site.control, mayBridge: false });
  const settings = { settings: plant, startFraction: START_FRACTION, sunsetTargetFraction };
  const reference = createReference(settings);
  const { place } = feed;
  const noonMs = START_MS + 12 * 3_600_000;
  const sun = daylightOfDay(noonMs, place.latitudeDeg, place.longitudeDeg);
  const input = emptyInput(plant);
  const calendar = createLocalCalendar(site.timeZone);
  return Array.from({ length: QUARTERS }, (_, row) => {
    fillInput(feed, row, input);
    let lowest = 0;
    for (let minute = 0; minute < 15; minute += 1) {
      const wallMs = START_MS + row * QUARTER_MS + minute * 60_000;
      reference.step(input, { dtS: 60, wallMs, ...calendar(wallMs) }, place);
      const { socFraction } = reference.truth;
      const isReached = reference.isSunset() && socFraction >= sunsetTargetFraction;
      // A sunset within the quarter is kept to at its end: a little harder than the rule.
      if (isReached) lowest = sunsetTargetFraction;
      reference.settle();
    }
    const kept = Math.min(floorFraction, reference.truth.socFraction);
    const startMs = START_MS + row * QUARTER_MS;
    const isLight = startMs >= (sun.sunriseMs ?? 0) && startMs + QUARTER_MS <= (sun.sunsetMs ?? 0);
    return { lowest: Math.max(lowest, kept), mayRun: isLight };
  });
}

/** Most useful energy from the start to the day's end. [Wh] */
function bestOf(site: SiteSettings, plant: PlantSettings, day: DaySeries): number {
  const feed = dayFeed(day, { plant, sitePlace: site.control, mayBridge: false });
  const kept = keptOf(site, plant, day);
  const floor = 0.4;
  const socAt = (place: number): number => floor + ((1 - floor) * place) / GRID;
  let worth = new Float64Array(GRID + 1);
  const input = emptyInput(plant);
  for (let row = QUARTERS - 1; row >= 0; row -= 1) {
    fillInput(feed, row, input);
    const { lowest = 0, mayRun = false } = kept[row] ?? {};
    worth = Float64Array.from({ length: GRID + 1 }, (_, place) => {
      let best = Number.NEGATIVE_INFINITY;
      for (let stage = 0; stage <= (mayRun ? STAGES.length : 0); stage += 1) {
        const shed = createPlant(plant, socAt(place));
        input.loadStages = [stage];
        shed.step(0, input);
        let usedWh = 0;
        for (let minute = 0; minute < 15; minute += 1) {
          shed.step(60, input);
          usedWh += (shed.truth.loadUsefulW[0] ?? 0) / 60;
        }
        // Dear enough that nobody wants it, and no cliff between two charges of the grid.
        usedWh -= SHORT_WH * Math.max(0, lowest - shed.truth.socFraction);
        best = Math.max(
          best,
          usedWh + between(worth, (shed.truth.socFraction - floor) / (1 - floor)),
        );
      }
      return best;
    });
  }
  return between(worth, (START_FRACTION - floor) / (1 - floor));
}

function between(worth: Float64Array, share: number): number {
  const place = Math.min(GRID, Math.max(0, share * GRID));
  const low = Math.min(GRID - 1, Math.floor(place));
  const [from = 0, to = 0] = [worth[low], worth[low + 1]];
  return from + (place - low) * (to - from);
}

const SITES = [
  { name: "lithium", site: oneLoad("malga.yaml", []), peaks: [3500, 5000], gap: 0.03 },
  {
    name: "lead-acid",
    site: oneLoad("tasmania.yaml", [
      "site.timeZone=Europe/Rome",
      "site.latitude=44.2",
      "site.longitude=6.9",
    ]),
    peaks: [3500, 5000],
    gap: 0.1,
  },
];

describe.each(SITES)("$name", ({ site, peaks, gap }) => {
  test.each(peaks)(
    "the bound is what perfect foresight can do, and a little: peak %i W",
    async (peakW) => {
      const plant = plainPlant(site);
      const day = quarters(peakW, peakW);
      const best = bestOf(site, plant, day);
      const calendar = createLocalCalendar(site.timeZone);
      const bound = await computeBound(
        {
          site,
          days: [day],
          calendar,
          stepS: 60,
          startFraction: START_FRACTION,
          mayBridge: false,
          plant,
        },
        (programme) => solve(programme, { onIterations: () => undefined }),
      );
      expect(best).toBeGreaterThan(1000);
      expect(bound.usefulDivertedWh).toBeGreaterThanOrEqual(0.995 * best);
      expect(bound.usefulDivertedWh).toBeLessThan((1 + gap) * best);
    },
    120_000,
  );
});
