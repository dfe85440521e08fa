/**
 * How well the controller knows what a throttled array could give: simulated weeks at the malga
 * with haze, a ridge, a tree, dirt and a tilt that is not as the settings say, against the plant's
 * own truth.
 */
import { loadSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { itemAt } from "../../service/control/item-at.ts";
import { initialPotential } from "../../service/control/potential-memory.ts";
import { step } from "../../service/control/step.ts";
import { arrayPotentialW } from "../../service/solar/array.ts";
import { extraterrestrialWm2, meanDayOfYear } from "../../service/solar/extraterrestrial.ts";
import { sunPosition } from "../../service/solar/sun.ts";
import type { SunPosition } from "../../service/solar/sun.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { replay } from "../../simulator/replay.ts";
import { SKY_KINDS } from "../../simulator/weather/cloud.ts";
import type { SkyKind } from "../../simulator/weather/cloud.ts";
import { createRandom } from "../../simulator/weather/random.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";

const MALGA = new URL("../../config/examples/malga.yaml", import.meta.url).pathname;
const DAY_MS = 86_400_000;
export const LEARNING_DAYS = 14;

/** How the site really is, in what its settings do not say. */
export interface Quirks {
  /** Real less configured. [deg] */
  readonly tiltErrorDeg: number;
  readonly azimuthErrorDeg: number;
  /** Share of the light that dirt takes. [1] 0…1 */
  readonly dirtFraction: number;
  /** The sun is hidden under this height, in the east and in the west. [deg] */
  readonly ridgeDeg: { readonly east: number; readonly west: number };
  /** A tree hides the sun between these azimuths, up to a height. [deg] */
  readonly tree: { readonly fromDeg: number; readonly toDeg: number; readonly heightDeg: number };
  /** Each day's haze takes up to this share. [1] 0…1 */
  readonly hazeFraction: number;
}

/** A site's own, drawn by chance. */
export function quirksOf(seed: number): Quirks {
  const random = createRandom(seed);
  const treeDeg = random.between(110, 250);
  return {
    tiltErrorDeg: random.between(-8, 8),
    azimuthErrorDeg: random.between(-10, 10),
    dirtFraction: random.between(0, 0.1),
    ridgeDeg: { east: random.between(5, 20), west: random.between(5, 20) },
    tree: { fromDeg: treeDeg, toDeg: treeDeg + 15, heightDeg: random.between(20, 60) },
    hazeFraction: random.between(0, 0.15),
  };
}

/** Light that is left where the sun itself is hidden; no source. [1] */
const SHADED_FRACTION = 0.2;

const THROTTLED_FRACTION = 0.9;
const TRUTH_MIN_W = 300;

export interface Throttled {
  readonly sky: SkyKind;
  /** By the site's clock. */
  readonly hour: number;
  readonly truthW: number;
  readonly lowW: number | null;
  readonly middleW: number | null;
  readonly highW: number | null;
}

/** As in the settings; the sensor stands free of ridges and trees, and clean. */
const SENSOR = [
  'telemetry.sky.irradiance={ topic: shed/sun, unit: "W/m2" }',
  "irradianceSensor={ tilt: 38 deg, azimuth: 172 deg }",
];

export interface Trial {
  readonly seed: number;
  /** YYYY-MM-DD */
  readonly from: string;
  readonly days: number;
}

/** Every minute after the learning in which a tenth of the sun or more was thrown away. */
export function throttledMinutes(trial: Trial, hasSensor: boolean): readonly Throttled[] {
  const site = loadSite({ path: MALGA, overrides: hasSensor ? SENSOR : [] });
  const found: Throttled[] = [];
  let before: { readonly truthW: number; readonly deliveredW: number } | null = null;
  let minute = 0;
  const skies = skiesOf(trial);
  const firstDay = Date.parse(trial.from) / DAY_MS;
  replay({
    site,
    days: quirkyDays(site, trial),
    step,
    calendar: createLocalCalendar(site.timeZone),
    stepS: 60,
    startFraction: 0.8,
    mayBridge: false,
    plant: null,
    // What is decided at an instant was measured in the step before it.
    onDecision: ({ site: { potentialLowW, potentialW, potentialHighW } }, at) => {
      const { localDay, localMinute } = at;
      minute += 1;
      if (minute <= LEARNING_DAYS * 1440 || before === null) return;
      const { truthW, deliveredW } = before;
      if (deliveredW > THROTTLED_FRACTION * truthW || truthW < TRUTH_MIN_W) return;
      const ends = { lowW: potentialLowW, middleW: potentialW, highW: potentialHighW };
      const sky = itemAt(skies, localDay - firstDay).kind;
      found.push({ sky, hour: Math.floor(localMinute / 60), truthW, ...ends });
    },
    onStep: ({ truth }) => {
      before = { truthW: truth.potentialW, deliveredW: truth.deliveredW };
    },
  });
  return found;
}

/** What a run of the trial came to. */
export interface Gain {
  readonly usefulWh: number;
  readonly reserveDrawnWh: number;
  readonly starts: number;
  /** Starts, and steps to a higher stage, on what can be counted on, and on what may be. */
  readonly onSure: number;
  readonly onTry: number;
  readonly failedTries: number;
  /** …of those that were started on what is sure. */
  readonly failedSure: number;
}

/**
 * The trial under an outlook's rule curve.
 *
 * @param knowsArrays - False: whatever was learned of arrays and sky is forgotten at every tick, so
 *   that a held-back array can only be tried.
 */
export function gainOf(trial: Trial, knowsArrays: boolean): Gain {
  const site = loadSite({ path: MALGA, overrides: ["ruleCurve={ mode: outlook }"] });
  const nothing = initialPotential(site.control);
  const counts = { onSure: 0, onTry: 0, failedTries: 0, failedSure: 0 };
  const isSure = site.control.loads.map(() => false);
  const { totals } = replay({
    site,
    days: quirkyDays(site, trial),
    step: (memory, observation, settings) =>
      step(knowsArrays ? memory : { ...memory, potential: nothing }, observation, settings),
    calendar: createLocalCalendar(site.timeZone),
    stepS: 60,
    startFraction: 0.8,
    mayBridge: false,
    plant: null,
    onDecision: ({ verdicts }) => {
      for (const [index, { code }] of verdicts.entries()) {
        if (code === "running-hidden") counts.onSure += 1;
        if (code === "running-hidden-maybe") counts.onTry += 1;
        if (code === "running-hidden" || code === "running-hidden-maybe") {
          isSure[index] = code === "running-hidden";
        }
        if (code !== "stopped-try") continue;
        counts.failedTries += 1;
        if (isSure[index] === true) counts.failedSure += 1;
      }
    },
  });
  const { usefulDivertedWh: usefulWh, reserveDrawnWh, starts } = totals;
  return { usefulWh, reserveDrawnWh, starts, ...counts };
}

export interface Quality {
  readonly minutes: number;
  /** Share of them for which a potential was known. [1] */
  readonly knownFraction: number;
  /** Median of |middle − truth| / truth. [1] */
  readonly medianErrorFraction: number;
  /** Share of truths within low…high. [1] */
  readonly coveredFraction: number;
  readonly belowFraction: number;
  /** Median of (high − low) / truth. [1] */
  readonly medianWidthFraction: number;
}

export function qualityOf(throttled: readonly Throttled[]): Quality {
  const errors: number[] = [];
  const widths: number[] = [];
  let covered = 0;
  let below = 0;
  for (const { truthW, lowW, middleW, highW } of throttled) {
    if (lowW === null || middleW === null || highW === null) continue;
    errors.push(Math.abs(middleW - truthW) / truthW);
    widths.push((highW - lowW) / truthW);
    // The meters round: a watt beside the range is within it.
    if (truthW < lowW - 1) below += 1;
    else if (truthW <= highW + 1) covered += 1;
  }
  return {
    minutes: throttled.length,
    knownFraction: errors.length / throttled.length,
    medianErrorFraction: median(errors),
    coveredFraction: covered / errors.length,
    belowFraction: below / errors.length,
    medianWidthFraction: median(widths),
  };
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? NaN;
}

interface DaySky {
  readonly kind: SkyKind;
  /** What haze leaves. [1] 0…1 */
  readonly clearFraction: number;
}

function skiesOf({ seed, days }: Trial): readonly DaySky[] {
  const random = createRandom(seed + 1_000_000);
  const { hazeFraction } = quirksOf(seed);
  return Array.from({ length: days }, () => ({
    kind: SKY_KINDS[Math.min(2, Math.floor(random.uniform() * 3))] ?? "clear",
    clearFraction: 1 - hazeFraction * random.uniform(),
  }));
}

function* quirkyDays(site: SiteSettings, trial: Trial): Generator<DaySeries> {
  const quirks = quirksOf(trial.seed);
  const startMs = Date.parse(`${trial.from}T00:00:00Z`);
  for (const [day, { kind, clearFraction }] of skiesOf(trial).entries()) {
    const localDate = new Date(startMs + day * DAY_MS).toISOString().slice(0, 10);
    const made = syntheticDay({ site, localDate, seed: trial.seed * 1000 + day, kind });
    yield withQuirks(made, { site, quirks, clearFraction });
  }
}

/** The day as this shed's arrays would have it. */
export function withQuirks(
  day: DaySeries,
  now: { readonly site: SiteSettings; readonly quirks: Quirks; readonly clearFraction: number },
): DaySeries {
  const { site, quirks, clearFraction } = now;
  const { latitudeDeg, longitudeDeg, sources } = site.control;
  const array = sources.find((source) => source.kind === "array");
  if (array === undefined) throw new Error("the malga has an array");
  const plane = {
    peakW: array.peakW * (1 - quirks.dirtFraction),
    tiltDeg: array.tiltDeg + quirks.tiltErrorDeg,
    azimuthDeg: array.azimuthDeg + quirks.azimuthErrorDeg,
  };
  const at = (name: string, row: number): number => day.columns.get(name)?.[row] ?? 0;
  const potential = Float64Array.from(day.timesMs, (atMs, row) => {
    const sun = sunPosition(atMs + 30_000, latitudeDeg, longitudeDeg);
    if (sun.altitudeDeg <= 0) return 0;
    const powerW = arrayPotentialW(plane, {
      sun,
      sky: {
        globalWm2: at("ghi_w_m2", row),
        beamNormalWm2: at("dni_w_m2", row),
        diffuseWm2: at("dhi_w_m2", row),
      },
      extraterrestrialWm2: extraterrestrialWm2(meanDayOfYear(atMs)),
      airTemperatureC: at("air_temperature_c", row),
      windMS: at("wind_speed_m_s", row),
      albedoFraction: 0.25,
    });
    return powerW * clearFraction * (isHidden(sun, quirks) ? SHADED_FRACTION : 1);
  });
  return { ...day, columns: new Map(day.columns).set("pv_potential_w", potential) };
}

function isHidden({ azimuthDeg, altitudeDeg }: SunPosition, { ridgeDeg, tree }: Quirks): boolean {
  if (altitudeDeg < (azimuthDeg < 180 ? ridgeDeg.east : ridgeDeg.west)) return true;
  return azimuthDeg > tree.fromDeg && azimuthDeg < tree.toDeg && altitudeDeg < tree.heightDeg;
}
