/**
 * Days cut into the steps of the bound. What they offer and ask is averaged over each step; a step
 * ends with the quarter of an hour, the sunset and the day. Dark hours in which nothing may run are
 * taken whole.
 */
import type { LocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { daylightOfDay } from "../../service/solar/daylight.ts";
import type { DaySeries } from "../days/day-file.ts";
import { dayFeed } from "../feed.ts";
import type { DayFeed } from "../feed.ts";
import { emptyInput, fillInput } from "../plant-input.ts";
import type { WritableInput } from "../plant-input.ts";
import type { PlantSettings } from "../plant/plant-settings.ts";
import { recordedCalendar } from "../recorded-calendar.ts";
import { createReference } from "../reference.ts";
import type { Reference } from "../reference.ts";
import type { SunsetStep } from "../sunset-watch.ts";
import type { BoundStep } from "./bound-step.ts";
import { createStepSum } from "./step-sum.ts";
import type { StepSum } from "./step-sum.ts";

export interface CollectOptions {
  readonly site: SiteSettings;
  readonly plant: PlantSettings;
  readonly days: Iterable<DaySeries>;
  readonly calendar: LocalCalendar;
  /** Of the reference run, as in the replay. [s] 1…60 */
  readonly stepS: number;
  /** Of the bound, in daylight. [min] */
  readonly quarterMin: number;
  /** [1] 0…1 */
  readonly startFraction: number;
  readonly mayBridge: boolean;
}

export interface Collected {
  readonly steps: readonly BoundStep[];
  /** Sunsets that even without loads come under the target. */
  readonly sunsetMisses: number;
  /** Of the battery: a compensated set-point is highest then. [°C] */
  readonly coldestC: number;
}

const MINUTE_MS = 60_000;
const NIGHT_STEP_MIN = 60;

/** @throws UserError if a day cannot be replayed. */
export function collectSteps(options: CollectOptions): Collected {
  const { site, plant, startFraction } = options;
  const { sunsetTargetFraction, latitudeDeg, longitudeDeg } = {
    ...site.control,
    ...site.control.battery,
  };
  const reference = createReference({ settings: plant, startFraction, sunsetTargetFraction });
  const cutter = createCutter(options, reference);
  const input = emptyInput(plant);
  const sitePlace = { latitudeDeg, longitudeDeg };
  for (const series of options.days) {
    const feed = dayFeed(series, { plant, sitePlace, mayBridge: options.mayBridge });
    walk(feed, options, (row, at) => {
      fillInput(feed, row, input);
      input.localMinute = at.localMinute;
      reference.step(input, at, feed.place);
      cutter.add(input, at, isLight(feed, at));
      reference.settle();
    });
  }
  return cutter.end();
}

function walk(
  feed: DayFeed,
  options: CollectOptions,
  onStep: (row: number, at: SunsetStep) => void,
): void {
  const calendar = recordedCalendar(feed.utcOffsets, options.calendar);
  const dtS = Math.min(options.stepS, feed.stepMs / 1000);
  let row = 0;
  for (let wallMs = feed.timesMs[0] ?? 0; wallMs < feed.endMs; wallMs += dtS * 1000) {
    while ((feed.timesMs[row + 1] ?? Infinity) <= wallMs) row += 1;
    onStep(row, { dtS, wallMs, ...calendar(wallMs) });
  }
}

function isLight({ place }: DayFeed, { wallMs, localMinute, dtS }: SunsetStep): boolean {
  const noonMs = wallMs + (720 - localMinute) * MINUTE_MS;
  const sun = daylightOfDay(noonMs, place.latitudeDeg, place.longitudeDeg);
  if (!sun.isUpAtNoon) return false;
  const riseMs = sun.sunriseMs ?? Number.NEGATIVE_INFINITY;
  return wallMs + dtS * 1000 > riseMs && wallMs < (sun.sunsetMs ?? Infinity);
}

interface Cutter {
  add(input: WritableInput, at: SunsetStep, isLit: boolean): void;
  end(): Collected;
}

function createCutter(options: CollectOptions, reference: Reference): Cutter {
  const { site, plant } = options;
  const target = site.control.battery.sunsetTargetFraction;
  // Water and wind run at night too: there the loads may.
  const mayRunInTheDark = plant.hydro.length + plant.wind.length > 0;
  const steps: BoundStep[] = [];
  const sum: StepSum = createStepSum(site, plant);
  let misses = 0;
  let coldestC = Infinity;
  let cutS = 0;
  let isOpen = false;
  let wasLit = false;
  let day = 0;
  const cut = (isSunset: boolean): void => {
    if (!isOpen) return;
    steps.push(
      sum.take({ localDay: day, isSunset, referenceFraction: reference.truth.socFraction }),
    );
    isOpen = false;
    cutS = 0;
  };
  return {
    add(input, at, isLit) {
      const mayRun = isLit || mayRunInTheDark;
      if (at.localDay !== day || mayRun !== wasLit) cut(false);
      day = at.localDay;
      wasLit = mayRun;
      coldestC = Math.min(coldestC, input.batteryTemperatureC);
      sum.add(input, reference.truth, { at, mayRun });
      isOpen = true;
      cutS += at.dtS;
      const isSunset = reference.isSunset();
      if (isSunset && reference.truth.socFraction < target) misses += 1;
      if (isSunset || cutS >= 60 * (mayRun ? options.quarterMin : NIGHT_STEP_MIN)) cut(isSunset);
    },
    end() {
      cut(false);
      return { steps, sunsetMisses: misses, coldestC };
    },
  };
}
