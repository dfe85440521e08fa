/**
 * Carries the outlook on by one tick: sums at every tick, and every five minutes what they say of
 * everyday use, of the sky and of the battery, and a new plan.
 *
 * Nothing is learned while the clock is in doubt: an hour of the wrong day is worse than none.
 */
import type { SiteVerdict } from "../decision.ts";
import { itemAt } from "../item-at.ts";
import type { LoadMemory } from "../memory.ts";
import type { Observation, Reading } from "../observation.ts";
import type { ControlSettings } from "../settings.ts";
import type { SocEstimate } from "../state-of-charge.ts";
import { doubtfulW } from "../thermostat.ts";
import { learnAcceptance } from "./acceptance-table.ts";
import type { SeenAcceptance } from "./acceptance-table.ts";
import { HOURS, isBaseKnown, learnHour, learnHourBetween } from "./base-profile.ts";
import type { BaseProfile, LocalHour } from "./base-profile.ts";
import { clearDaysAt, clearPowerAt, placeInDay } from "./clear-days.ts";
import type { ClearDays } from "./clear-days.ts";
import { forecastFraction } from "./forecast.ts";
import { nothingGathered } from "./outlook-memory.ts";
import type { Gathered, HourSum, OutlookMemory, OutlookPlan } from "./outlook-memory.ts";
import { makePlan } from "./plan.ts";
import { closeDay, sayClearness, tailFractionOf } from "./said-clearness.ts";
import { lookAtSky, PARTS, withToday } from "./sky-record.ts";
import type { SkyRecord } from "./sky-record.ts";

const REFRESH_MS = 300_000;
/** Nothing new is to be seen by night. */
const REFRESH_BY_NIGHT_MS = 1_800_000;
/** An hour of which less was seen says nothing. */
const HOUR_SEEN_MIN_MS = 1_200_000;
/** Minutes that were free for this share of them count as free. */
const MOST = 0.9;
/** Under this share of the arrays' peak clearness means nothing: it is dawn or dusk. */
const CLEAR_MIN_FRACTION = 0.04;
/** How fast the slow mean of hydro and wind follows: about three hours by day. */
const STEADY_WEIGHT = 1 / 36;
const MS_PER_HOUR = 3_600_000;
const MS_PER_MINUTE = 60_000;
const MINUTES_PER_HOUR = 60;

export interface OutlookInput {
  readonly settings: ControlSettings;
  readonly site: SiteVerdict;
  /** Time since the tick before that counts. [ms] ≥ 0 */
  readonly dtMs: number;
  readonly estimate: SocEstimate;
  readonly loads: readonly LoadMemory[];
}

export function advanceOutlook(
  before: OutlookMemory,
  observation: Observation,
  input: OutlookInput,
): OutlookMemory {
  if (!observation.isWallClockPlausible) return withoutClock(before, observation.monotonicMs);
  const after = withGathered(before, gather(before.gathered, observation, input));
  return isDue(before, observation, input.site.isDaylight)
    ? refreshed(after, observation, input)
    : after;
}

/** Written out field by field, as all that is made at every tick: a spread takes longer than it. */
function withGathered(before: OutlookMemory, gathered: Gathered): OutlookMemory {
  const { hour, base, sky, acceptance, steadyW, clearDays, plan } = before;
  return { gathered, hour, base, sky, acceptance, steadyW, clearDays, plan };
}

/** What has been learned stays; what is under way is given up. */
function withoutClock(before: OutlookMemory, nowMs: number): OutlookMemory {
  if (before.clearDays === null) return before;
  return { ...before, gathered: nothingGathered(nowMs), hour: null, clearDays: null, plan: null };
}

function isDue(
  { gathered, plan, clearDays }: OutlookMemory,
  { monotonicMs, wallMs, localDay }: Observation,
  isDaylight: boolean | null,
): boolean {
  if (clearDays?.localDay !== localDay) return true;
  if (plan !== null && wallMs >= plan.untilMs) return true;
  const everyMs = isDaylight === true ? REFRESH_MS : REFRESH_BY_NIGHT_MS;
  return monotonicMs - gathered.sinceMs >= everyMs;
}

function gather(sums: Gathered, observation: Observation, input: OutlookInput): Gathered {
  const { site, dtMs, estimate, settings } = input;
  const { basePowerW, batteryPowerW } = site;
  let arraysW = 0;
  let steadyW = 0;
  let isWhole = true;
  for (let index = 0; index < settings.sources.length; index += 1) {
    const { powerW, dumpPowerW } = itemAt(observation.sources, index);
    if (itemAt(settings.sources, index).kind === "array") {
      arraysW += freshW(powerW);
      isWhole = isWhole && powerW.quality === "fresh";
    } else {
      steadyW += freshW(powerW) + freshW(dumpPowerW);
    }
  }
  const isHeld = estimate.charge.isAtSetpoint && batteryPowerW !== null;
  const wholeMs = isWhole ? dtMs : 0;
  const doubtDcW = doubtfulW(input.loads, settings.loads) / settings.inverter.efficiencyFraction;
  const baseW = basePowerW ?? 0;
  const knownMs = basePowerW === null || doubtDcW > 0 ? 0 : dtMs;
  const doubtMs = basePowerW === null || doubtDcW === 0 ? 0 : dtMs;
  const generator = observation.isGeneratorRunning;
  // Beside a generator the battery may be full of fuel: what the arrays give says nothing.
  const isFree = !site.isCurtailed && !(generator.quality === "fresh" && generator.value);
  return {
    sinceMs: sums.sinceMs,
    baseMs: sums.baseMs + knownMs,
    baseWms: sums.baseWms + baseW * knownMs,
    doubtMs: sums.doubtMs + doubtMs,
    doubtLeastWms: sums.doubtLeastWms + baseW * doubtMs,
    doubtMostWms: sums.doubtMostWms + (baseW + doubtDcW) * doubtMs,
    arraysMs: sums.arraysMs + wholeMs,
    arraysWms: sums.arraysWms + arraysW * wholeMs,
    freeMs: isFree ? sums.freeMs + wholeMs : sums.freeMs,
    steadyWms: sums.steadyWms + steadyW * dtMs,
    steadyMs: sums.steadyMs + dtMs,
    heldMs: isHeld ? sums.heldMs + dtMs : sums.heldMs,
    heldWms: isHeld ? sums.heldWms + batteryPowerW * dtMs : sums.heldWms,
  };
}

function freshW({ quality, value }: Reading): number {
  return quality === "fresh" ? value : 0;
}

function refreshed(
  before: OutlookMemory,
  observation: Observation,
  input: OutlookInput,
): OutlookMemory {
  const { settings, site } = input;
  const { ruleCurve } = settings;
  const clearDays = clearDaysAt(before.clearDays, observation, settings);
  const caution = ruleCurve.kind === "outlook" ? ruleCurve.cautionFraction : null;
  const use = baseAfter(before, observation);
  const learned: OutlookMemory = {
    gathered: nothingGathered(observation.monotonicMs),
    hour: use.hour,
    base: use.base,
    sky: skyAfter(before, observation, { settings, clearDays, caution }),
    acceptance: acceptanceAfter(before, site.socFraction),
    steadyW: steadyAfter(before),
    clearDays,
    plan: null,
  };
  if (caution === null || site.socFraction === null || !isBaseKnown(learned.base)) return learned;
  const plan = makePlan(learned, {
    observation,
    settings,
    clearDays,
    socFraction: site.socFraction,
    fullOnDay: input.estimate.memory.fullOnDay,
    tailFraction: tailFractionOf(learned.sky, caution),
    loads: input.loads,
  });
  const { gathered, hour, base, acceptance, steadyW } = learned;
  const sky = withSaid(learned.sky, plan, { observation, clearDays });
  return { gathered, hour, base, sky, acceptance, steadyW, clearDays, plan };
}

/** The hour that runs takes up the minutes; one that is over goes into the profile. */
function baseAfter(
  { base, hour, gathered }: OutlookMemory,
  { localDay, localMinute, monotonicMs }: Observation,
): { readonly base: BaseProfile; readonly hour: HourSum } {
  const now = hourOfMiddle({ localDay, localMinute }, monotonicMs - gathered.sinceMs);
  const isSame = hour?.localDay === localDay && hour.hour === now.hour;
  const before = isSame ? hour : null;
  const next = {
    localDay: now.localDay,
    hour: now.hour,
    ms: (before?.ms ?? 0) + gathered.baseMs,
    wms: (before?.wms ?? 0) + gathered.baseWms,
    doubtMs: (before?.doubtMs ?? 0) + gathered.doubtMs,
    doubtLeastWms: (before?.doubtLeastWms ?? 0) + gathered.doubtLeastWms,
    doubtMostWms: (before?.doubtMostWms ?? 0) + gathered.doubtMostWms,
  };
  return { base: isSame || hour === null ? base : withHour(base, hour), hour: next };
}

/** Minutes in doubt count only where there are too few others, and only as far as they say. */
function withHour(base: BaseProfile, hour: HourSum): BaseProfile {
  const { ms, wms, doubtMs, doubtLeastWms, doubtMostWms } = hour;
  if (ms >= HOUR_SEEN_MIN_MS) return learnHour(base, hour, wms / ms);
  const allMs = ms + doubtMs;
  if (allMs < HOUR_SEEN_MIN_MS) return base;
  const leastW = Math.max(0, (wms + doubtLeastWms) / allMs);
  return learnHourBetween(base, hour, { leastW, mostW: (wms + doubtMostWms) / allMs });
}

/** The hour in which most of the minutes that end now lie. */
function hourOfMiddle(
  { localDay, localMinute }: Pick<Observation, "localDay" | "localMinute">,
  elapsedMs: number,
): LocalHour {
  const minute = localMinute - elapsedMs / (2 * MS_PER_MINUTE);
  const hour = Math.floor(minute / MINUTES_PER_HOUR);
  return hour >= 0 ? { localDay, hour } : { localDay: localDay - 1, hour: hour + HOURS };
}

function skyAfter(
  { sky, gathered }: OutlookMemory,
  observation: Observation,
  input: {
    readonly settings: ControlSettings;
    readonly clearDays: ClearDays;
    readonly caution: number | null;
  },
): SkyRecord {
  const { settings, clearDays, caution } = input;
  const { wallMs, localDay, monotonicMs } = observation;
  const { today: day } = clearDays;
  const isOver = day.sunsetMs === null || wallMs >= day.sunsetMs;
  const isOld = sky.today !== null && (isOver || sky.today.localDay !== localDay);
  const record = isOld ? closeDay(sky, day, caution) : sky;
  const middleMs = wallMs - (monotonicMs - gathered.sinceMs) / 2;
  const place = placeInDay(day, middleMs);
  const clearW = clearPowerAt(clearDays, middleMs);
  const isBright = clearW > CLEAR_MIN_FRACTION * peakW(settings);
  if (isOver || place?.isUp !== true || !isBright || gathered.arraysMs === 0) return record;
  const look = {
    localDay,
    part: Math.min(PARTS - 1, Math.floor(place.position)),
    measuredWh: gathered.arraysWms / MS_PER_HOUR,
    clearWh: (clearW * gathered.arraysMs) / MS_PER_HOUR,
    isCertain: gathered.freeMs >= MOST * gathered.arraysMs,
    forecast: forecastFraction(observation, clearDays, "today"),
  };
  return withToday(record, lookAtSky(record.today, look));
}

function peakW({ sources }: ControlSettings): number {
  let sumW = 0;
  for (const source of sources) if (source.kind === "array") sumW += source.peakW;
  return sumW;
}

function acceptanceAfter(
  { acceptance, gathered }: OutlookMemory,
  socFraction: number | null,
): SeenAcceptance {
  const { heldMs, heldWms } = gathered;
  if (socFraction === null || heldMs < MOST * REFRESH_MS) return acceptance;
  return learnAcceptance(acceptance, socFraction, heldWms / heldMs);
}

function steadyAfter({ steadyW, gathered }: OutlookMemory): number {
  const { steadyWms, steadyMs } = gathered;
  if (steadyMs === 0) return steadyW;
  return (
    steadyW +
    Math.min(1, (STEADY_WEIGHT * steadyMs) / REFRESH_MS) * (steadyWms / steadyMs - steadyW)
  );
}

function withSaid(
  sky: SkyRecord,
  plan: OutlookPlan | null,
  { observation, clearDays }: { readonly observation: Observation; readonly clearDays: ClearDays },
): SkyRecord {
  const { today } = sky;
  const place = placeInDay(clearDays.today, observation.wallMs);
  if (plan === null || place === null || today === null) return sky;
  const said = { position: place.position, cautious: plan.cautiousClearness };
  return withToday(sky, sayClearness(today, said));
}
