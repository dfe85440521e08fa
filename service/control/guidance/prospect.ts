/**
 * What is likely to come until tomorrow's sunset, by steps of ten minutes, on three sides of the
 * outlook: the middle, the cautious side that the rule curve counts with, and a doubtful one that
 * only one day in twenty falls below.
 *
 * The rule curve is worked out anew here, backward from each sunset, in both modes of the
 * settings: a fixed curve says when loads run, and nothing of what the night will need. It leads
 * to the charge that the owner wants at sunset. What the loads' curve has on top of that is for
 * the loads: a margin, because they stop somewhat below it, and the height at which the battery
 * may be kept at no cost.
 */
import { ruleCurveNow } from "../rule-curve.ts";
import { numberAt } from "../item-at.ts";
import type { LoadMemory } from "../memory.ts";
import type { Observation } from "../observation.ts";
import { baseSpreadW, expectedBaseW } from "../outlook/base-profile.ts";
import { clearPowerAt, placeInDay } from "../outlook/clear-days.ts";
import type { ClearDay, ClearDays } from "../outlook/clear-days.ts";
import { curveFractions } from "../outlook/curve.ts";
import type { CurveBattery } from "../outlook/curve.ts";
import { forecastFraction } from "../outlook/forecast.ts";
import { wantsOf } from "../outlook/loads-want.ts";
import type { OutlookMemory } from "../outlook/outlook-memory.ts";
import {
  curveBattery,
  DAY_SPREADS,
  isCompletionAimedAt,
  keptFloorOf,
  NIGHT_SPREADS,
  STEADY_CAUTIOUS,
  targetOf,
} from "../outlook/plan.ts";
import { restOfDay } from "../outlook/rest-of-day.ts";
import type { Clearness } from "../outlook/rest-of-day.ts";
import { tailFractionOf } from "../outlook/said-clearness.ts";
import type { ControlSettings } from "../settings.ts";

export const STEP_MS = 600_000;
export const STEP_H = STEP_MS / 3_600_000;
/** Where the settings name no caution, because their curve is fixed. Ours, no source. [1] */
const USUAL_CAUTION = 0.8;
/** Share of days that fall below the doubtful side… [1] */
const DOUBTFUL_TAIL = 0.05;
/**
 * …and everyday use beside it: as many standard deviations, for hours that differ by chance from
 * what is usual for each; of the few before sunset each counts for more than of a whole day's.
 */
const DOUBTFUL_DEVIATIONS = 1.645;
const MINUTES_PER_HOUR = 60;
const HOUR_MS = 3_600_000;

export interface LocalInstant {
  /** Days since 1970-01-01 of the local date. */
  readonly localDay: number;
  /** [min] 0…1439 */
  readonly localMinute: number;
}

export interface ProspectInput {
  readonly outlook: OutlookMemory;
  readonly clearDays: ClearDays;
  readonly observation: Observation;
  readonly settings: ControlSettings;
  readonly loads: readonly LoadMemory[];
  /** Local day of the last full charge; null: not known. */
  readonly fullOnDay: number | null;
  /** Local date and time of an instant, with its changes of the clocks. */
  readonly localTimeAt: (wallMs: number) => LocalInstant;
}

export interface Side {
  /** Sources less everyday use, at the battery bus, of each step. [W] */
  readonly netW: readonly number[];
  /** R at the beginning of each step and at the end of the last. [1] */
  readonly curve: readonly number[];
  /** Down to which opportunity loads may draw the battery, at the same instants. [1] */
  readonly loadsDownTo: readonly number[];
}

export interface Prospect {
  /** Beginning of the first step, that in which now lies. */
  readonly fromMs: number;
  readonly middle: Side;
  readonly cautious: Side;
  readonly doubtful: Side;
  /** Local time at which each step begins. */
  readonly localTimes: readonly LocalInstant[];
  /** The sun is above the horizon. */
  readonly isDay: readonly boolean[];
  /** Steps after whose end the sun sets; the last is the number of steps. */
  readonly sunsetSteps: readonly number[];
  /** The step with which tomorrow begins, if it is among them. */
  readonly tomorrowStep: number;
  /** Everyday use that has to fit into the inverter beside an appliance. [W] AC */
  readonly baseAcW: readonly number[];
  readonly battery: CurveBattery;
  /** The battery is to be as full as this before each sunset; null: no full charge is due. [1] */
  readonly completedAt: number | null;
  readonly loadsW: { readonly today: number; readonly tomorrow: number };
  /** What the loads still want today; tomorrow they are taken to want all there is. [Wh] */
  readonly loadsWantWh: number;
}

/** @returns null where the sun does not rise and set within the two days. */
export function prospectOf(input: ProspectInput): Prospect | null {
  const { clearDays, observation, settings, localTimeAt } = input;
  const fromMs = Math.floor(observation.wallMs / STEP_MS) * STEP_MS;
  const { today, tomorrow } = clearDays;
  if (tomorrow.sunsetMs === null || tomorrow.sunriseMs === null) return null;
  const steps = Math.ceil((tomorrow.sunsetMs - fromMs) / STEP_MS);
  const ofToday = today.sunsetMs === null ? 0 : Math.ceil((today.sunsetMs - fromMs) / STEP_MS);
  const sunsetSteps = ofToday > 0 ? [ofToday, steps] : [steps];
  const localTimes: LocalInstant[] = [];
  const isDay: boolean[] = [];
  for (let step = 0; step < steps; step += 1) {
    const middleMs = fromMs + (step + 0.5) * STEP_MS;
    localTimes.push(localTimeAt(fromMs + step * STEP_MS));
    isDay.push(isUp(today, middleMs) || isUp(tomorrow, middleMs));
  }
  const frame = { ...input, fromMs, sunsetSteps, localTimes };
  const { middle, cautious, doubtful } = sidesOf(frame);
  const wants = wantsOf(input.loads, observation, settings);
  const wanting = wants.filter(({ energyWh }) => energyWh > 0);
  const powerOf = (some: typeof wants): number => some.reduce((sum, one) => sum + one.powerW, 0);
  return {
    fromMs,
    middle,
    cautious,
    doubtful,
    localTimes,
    isDay,
    sunsetSteps,
    tomorrowStep: localTimes.findIndex(({ localDay }) => localDay > observation.localDay),
    baseAcW: localTimes.map((at) => baseAcW(at, input)),
    battery: curveBattery(settings.battery, input.outlook),
    completedAt: isCompletionAimedAt(input) ? targetOf(settings.battery, true) : null,
    loadsW: { today: powerOf(wanting), tomorrow: powerOf(wants) },
    loadsWantWh: wanting.reduce((sum, { energyWh }) => sum + energyWh, 0),
  };
}

function isUp({ sunriseMs, sunsetMs }: ClearDay, atMs: number): boolean {
  return sunriseMs !== null && sunsetMs !== null && atMs >= sunriseMs && atMs < sunsetMs;
}

/** [W] AC ≥ 0 */
function baseAcW(
  { localDay, localMinute }: LocalInstant,
  { outlook, settings }: ProspectInput,
): number {
  const hour = Math.floor(localMinute / MINUTES_PER_HOUR);
  const { base } = outlook;
  const { efficiencyFraction, idleW } = settings.inverter;
  const inputW = expectedBaseW(base, { localDay, hour }) + baseSpreadW(base, hour);
  return Math.max(0, (inputW - idleW) * efficiencyFraction);
}

interface Frame extends ProspectInput {
  readonly fromMs: number;
  readonly sunsetSteps: readonly number[];
  readonly localTimes: readonly LocalInstant[];
}

/** The same over each day: a share of clear-sky power, or of the hours' spreads. */
interface SkySide {
  readonly today: number;
  readonly tomorrow: number;
}

function sidesOf(frame: Frame): Record<"middle" | "cautious" | "doubtful", Side> {
  const { ruleCurve } = frame.settings;
  const caution = ruleCurve.kind === "outlook" ? ruleCurve.cautionFraction : USUAL_CAUTION;
  const tail = tailFractionOf(frame.outlook.sky, caution);
  const [todayClearness, tomorrowClearness] = clearnessAt(tail, frame);
  const [todayDoubtful, tomorrowDoubtful] = clearnessAt(Math.min(tail, DOUBTFUL_TAIL), frame);
  const middle = netPowers(
    { today: todayClearness.expected, tomorrow: tomorrowClearness.expected },
    { steady: 1, day: NEVER, night: 0 },
    frame,
  );
  const cautious = netPowers(
    { today: todayClearness.cautious, tomorrow: tomorrowClearness.cautious },
    { steady: STEADY_CAUTIOUS, day: CAUTIOUS_DAYS, night: NIGHT_SPREADS },
    frame,
  );
  const doubtful = netPowers(
    {
      today: Math.min(todayClearness.cautious, todayDoubtful.cautious),
      tomorrow: Math.min(tomorrowClearness.cautious, tomorrowDoubtful.cautious),
    },
    { steady: STEADY_CAUTIOUS, day: doubtfulSpreads(frame), night: NIGHT_SPREADS },
    frame,
  );
  const cautiousCurve = curveOf(cautious, frame);
  const side = (netW: readonly number[], curve: readonly number[]): Side => ({
    netW,
    curve,
    loadsDownTo: curve.map((fraction, step) => {
      const nowFraction = curveOfLoads(frame, step) ?? numberAt(cautiousCurve, step);
      // On a dull day the curve would rise in time, and the loads stop.
      return Math.max(fraction, nowFraction);
    }),
  });
  return {
    middle: side(middle, curveOf(middle, frame)),
    cautious: side(cautious, cautiousCurve),
    doubtful: side(doubtful, curveOf(doubtful, frame)),
  };
}

const NEVER: SkySide = { today: 0, tomorrow: 0 };
const CAUTIOUS_DAYS: SkySide = { today: DAY_SPREADS, tomorrow: DAY_SPREADS };

/** Of the hours of light that are left, and of all those of tomorrow. */
function doubtfulSpreads({ clearDays, fromMs }: Frame): SkySide {
  const of = ({ sunriseMs, sunsetMs }: ClearDay): number => {
    const leftMs = (sunsetMs ?? 0) - Math.max(fromMs, sunriseMs ?? 0);
    return Math.max(DAY_SPREADS, DOUBTFUL_DEVIATIONS / Math.sqrt(Math.max(1, leftMs / HOUR_MS)));
  };
  return { today: of(clearDays.today), tomorrow: of(clearDays.tomorrow) };
}

/** What the loads go by, at the beginning of a step; null: it is not known for then. [1] */
function curveOfLoads(
  { settings, outlook, observation, fromMs }: Frame,
  step: number,
): number | null {
  const wallMs = Math.max(observation.wallMs, fromMs + step * STEP_MS);
  const { plan } = outlook;
  if (settings.ruleCurve.kind === "outlook" && (plan === null || wallMs >= plan.untilMs)) {
    return null;
  }
  return ruleCurveNow(settings.ruleCurve, plan, { ...observation, wallMs }).fraction;
}

/** Of today and of tomorrow. */
function clearnessAt(
  tailFraction: number,
  { outlook, clearDays, observation }: Frame,
): readonly [Clearness, Clearness] {
  const { localDay, wallMs } = observation;
  const seen = outlook.sky.today;
  const { today, tomorrow } = clearDays;
  const rest = (day: ClearDay, isToday: boolean): Clearness =>
    restOfDay({
      record: outlook.sky,
      today: isToday && seen?.localDay === localDay ? seen : null,
      localDay: isToday ? localDay : localDay + 1,
      position: isToday ? (placeInDay(day, wallMs)?.position ?? 0) : 0,
      clearWh: day.partWh,
      forecast: forecastFraction(observation, clearDays, isToday ? "today" : "tomorrow"),
      tailFraction,
    });
  return [rest(today, true), rest(tomorrow, false)];
}

function netPowers(
  sky: SkySide,
  careful: { readonly steady: number; readonly day: SkySide; readonly night: number },
  { outlook, clearDays, observation, localTimes, fromMs }: Frame,
): readonly number[] {
  const { base, steadyW } = outlook;
  return localTimes.map(({ localDay, localMinute }, step) => {
    const clearW = clearPowerAt(clearDays, fromMs + (step + 0.5) * STEP_MS);
    const hour = Math.floor(localMinute / MINUTES_PER_HOUR);
    const isToday = localDay === observation.localDay;
    const clearness = isToday ? sky.today : sky.tomorrow;
    const daySpreads = isToday ? careful.day.today : careful.day.tomorrow;
    const spreads = clearW > 0 ? daySpreads : careful.night;
    const baseW = expectedBaseW(base, { localDay, hour }) + spreads * baseSpreadW(base, hour);
    return clearness * clearW + careful.steady * steadyW - baseW;
  });
}

/** From sunset to sunset: at each the battery is to be where its owner wants it. */
function curveOf(netW: readonly number[], frame: Frame): readonly number[] {
  const { sunsetSteps, settings, outlook } = frame;
  const { sunsetTargetFraction } = settings.battery;
  const floorFraction = keptFloorOf(outlook, frame);
  const battery = curveBattery(settings.battery, outlook);
  const curve: number[] = [];
  let from = 0;
  for (const to of sunsetSteps) {
    const stretch = curveFractions({
      netW: netW.slice(from, to),
      slotH: STEP_H,
      battery,
      floorFraction: Math.min(sunsetTargetFraction, floorFraction),
      targetFraction: sunsetTargetFraction,
      ceilingFraction: 1,
    });
    // The sunset between two stretches belongs to the first: it asks for more.
    curve.push(...(from === 0 ? stretch : stretch.slice(1)));
    from = to;
  }
  return curve;
}
