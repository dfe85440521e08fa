/** The outlook from now to the next sunset, and the rule curve that follows from it. */
import { numberAt } from "../item-at.ts";
import type { Observation } from "../observation.ts";
import type { BatterySettings, ControlSettings } from "../settings.ts";
import type { LoadMemory } from "../memory.ts";
import { COMPLETED_FRACTION, storedShare } from "../stored-charge.ts";
import { acceptanceTable } from "./acceptance-table.ts";
import { baseSpreadW, expectedBaseW, HOURS } from "./base-profile.ts";
import { clearPowerW, DAY_SLOTS, placeInDay, SLOT_H, SLOT_MS } from "./clear-days.ts";
import type { ClearDays } from "./clear-days.ts";
import { curveFractions, pathFractions } from "./curve.ts";
import type { CurveBattery } from "./curve.ts";
import { forecastFraction } from "./forecast.ts";
import { keptFractions } from "./kept-charge.ts";
import { wantsOf } from "./loads-want.ts";
import type { OutlookMemory, OutlookPlan } from "./outlook-memory.ts";
import { restOfDay } from "./rest-of-day.ts";
import type { Clearness } from "./rest-of-day.ts";

/**
 * The curve aims this much above the wanted sunset target and keeps this far from the floor: loads
 * stop somewhat below the curve. Lead-acid takes its last charge so slowly that the same margins
 * cost it far more. Found on the development weather; ours, no source. [1]
 */
const MARGINS = {
  lfp: { target: 0.04, floor: 0.03 },
  leadAcid: { target: 0.035, floor: 0.02 },
} as const;
/** A charge that is to be completed is aimed this much higher, so that it comes to its end. [1] */
const COMPLETION_MARGIN_FRACTION = 0.015;
/** Charging has to end this long before sunset on a day on which it is to be completed. [slots] */
const COMPLETED_BEFORE_SLOTS = 4;
/** So full that a load may run though more is to be drawn before sunset. Ours, no source. [1] */
const CEILING_FRACTION = 0.97;
/** Absorption comes to its end, whatever a share that falls to nothing would say. [1] */
const STORED_SHARE_MIN = 0.1;
/** A full charge is aimed at from this many days before it is due, or half the time between two. */
const COMPLETE_DAYS_BEFORE = 3;
/** The sunny side against the cautious one. Found on the development weather; ours, no source. */
const SUNNY_SHARE = 0.5;
/** What hydro and wind bring on the cautious side, against their mean. Ours, no source. [1] */
export const STEADY_CAUTIOUS = 0.8;
/** Everyday use on the cautious side: the mean and so many spreads, by day and by night. */
export const DAY_SPREADS = 0.3;
export const NIGHT_SPREADS = 1;

export interface PlanInput {
  readonly observation: Observation;
  readonly settings: ControlSettings;
  readonly clearDays: ClearDays;
  /** [1] 0…1 */
  readonly socFraction: number;
  /** Local day of the last full charge; null: not known. */
  readonly fullOnDay: number | null;
  /** Share of outcomes that may fall below the cautious side. [1] */
  readonly tailFraction: number;
  readonly loads: readonly LoadMemory[];
}

interface Horizon {
  readonly fromSlot: number;
  readonly toSlot: number;
  /** Share of the first slot that is still to come. [1] */
  readonly firstShare: number;
  readonly clearness: Clearness;
}

/** @returns null where the sun does not rise and set: there is no sunset to be ready for. */
export function makePlan(outlook: OutlookMemory, input: PlanInput): OutlookPlan | null {
  const horizon = horizonOf(outlook, input);
  if (horizon === null) return null;
  const { settings, observation, clearDays } = input;
  const powers = slotPowers(outlook, horizon, input);
  const isCompleting = isCompletionAimedAt(input);
  const battery = curveBattery(settings.battery, outlook);
  const cautiousNetW = isCompleting ? endingEarly(powers.cautiousNetW) : powers.cautiousNetW;
  const targetFraction = targetOf(settings.battery, isCompleting);
  const floorFraction = Math.min(targetFraction, keptFloorOf(outlook, input));
  const curve = curveFractions({
    netW: cautiousNetW,
    slotH: SLOT_H,
    battery,
    floorFraction,
    targetFraction,
    ceilingFraction: Math.max(targetFraction, CEILING_FRACTION),
  });
  const wants = wantsOf(input.loads, observation, settings);
  const kept = keptFractions({ netW: powers.sunnyNetW, slotH: SLOT_H, battery, wants });
  keep(curve, { kept, from: powers.darkSlots, targetFraction });
  const fromMs = clearDays.midnightMs + horizon.fromSlot * SLOT_MS;
  const path = pathFractions(input.socFraction, {
    netW: powers.expectedNetW,
    slotH: SLOT_H,
    battery,
  });
  return {
    fromMs,
    untilMs: clearDays.midnightMs + horizon.toSlot * SLOT_MS,
    localDay: observation.localDay,
    curve,
    path,
    expectedWh: powers.expectedWh,
    cautiousWh: powers.cautiousWh,
    baseWh: powers.baseWh,
    isCompleting,
    cautiousClearness: horizon.clearness.cautious,
    startsAtMs: settings.loads.map(({ startAboveFraction }) => {
      const place = path.findIndex((now, at) => now - numberAt(curve, at) >= startAboveFraction);
      return place < 0 ? null : fromMs + place * SLOT_MS;
    }),
  };
}

/** Raises the curve, from sunrise on, to where the battery may be kept at no cost. */
function keep(
  curve: number[],
  to: { readonly kept: readonly number[]; readonly from: number; readonly targetFraction: number },
): void {
  for (let slot = to.from; slot < to.kept.length; slot += 1) {
    const fraction = Math.min(to.targetFraction, numberAt(to.kept, slot));
    curve[slot] = Math.max(numberAt(curve, slot), fraction);
  }
}

/** The charge that the sun's last hour brings does not count. */
function endingEarly(netW: readonly number[]): readonly number[] {
  const last = netW.length - COMPLETED_BEFORE_SLOTS;
  return netW.map((powerW, slot) => (slot < last ? powerW : Math.min(0, powerW)));
}

function horizonOf(outlook: OutlookMemory, input: PlanInput): Horizon | null {
  const { clearDays, observation } = input;
  const { wallMs, localDay } = observation;
  const { today, tomorrow, midnightMs } = clearDays;
  const isToday = today.sunsetMs !== null && wallMs < today.sunsetMs;
  const day = isToday ? today : tomorrow;
  const place = placeInDay(day, wallMs);
  if (place === null || day.sunsetMs === null) return null;
  const slots = (wallMs - midnightMs) / SLOT_MS;
  const fromSlot = Math.floor(slots);
  const seen = outlook.sky.today;
  const forecast = forecastFraction(observation, clearDays, isToday ? "today" : "tomorrow");
  return {
    fromSlot,
    toSlot: Math.max(fromSlot + 1, Math.ceil((day.sunsetMs - midnightMs) / SLOT_MS)),
    firstShare: 1 - (slots - fromSlot),
    clearness: restOfDay({
      record: outlook.sky,
      today: isToday && seen?.localDay === localDay ? seen : null,
      localDay: isToday ? localDay : localDay + 1,
      position: place.position,
      clearWh: day.partWh,
      forecast,
      tailFraction: input.tailFraction,
    }),
  };
}

interface SlotPowers {
  readonly expectedNetW: readonly number[];
  readonly cautiousNetW: readonly number[];
  /** Half as far above what is expected as the cautious side is below it. */
  readonly sunnyNetW: readonly number[];
  /** Before sunrise. */
  readonly darkSlots: number;
  readonly expectedWh: number;
  readonly cautiousWh: number;
  readonly baseWh: number;
}

function slotPowers(outlook: OutlookMemory, horizon: Horizon, input: PlanInput): SlotPowers {
  const { fromSlot, toSlot, clearness, firstShare } = horizon;
  const { base, steadyW } = outlook;
  const slots = toSlot - fromSlot;
  const expectedNetW = new Array<number>(slots);
  const cautiousNetW = new Array<number>(slots);
  const sunnyNetW = new Array<number>(slots);
  let expectedWh = 0;
  let cautiousWh = 0;
  let baseWh = 0;
  let darkSlots = 0;
  let hour = -1;
  let baseW = 0;
  let spreadW = 0;
  for (let slot = fromSlot; slot < toSlot; slot += 1) {
    if (hourOf(slot) !== hour) {
      hour = hourOf(slot);
      const localDay = input.observation.localDay + Math.floor(slot / DAY_SLOTS);
      baseW = expectedBaseW(base, { localDay, hour });
      spreadW = baseSpreadW(base, hour);
    }
    const clearW = clearPowerW(input.clearDays, slot);
    const spreads = clearW > 0 ? DAY_SPREADS : NIGHT_SPREADS;
    const expectedW = clearness.expected * clearW + steadyW;
    const cautiousW = clearness.cautious * clearW + STEADY_CAUTIOUS * steadyW;
    const place = slot - fromSlot;
    expectedNetW[place] = expectedW - baseW;
    cautiousNetW[place] = cautiousW - baseW - spreads * spreadW;
    const belowW = expectedW - cautiousW + spreads * spreadW;
    sunnyNetW[place] = expectedW - baseW + SUNNY_SHARE * belowW;
    if (clearW === 0 && darkSlots === place) darkSlots += 1;
    const slotH = SLOT_H * (slot === fromSlot ? firstShare : 1);
    expectedWh += expectedW * slotH;
    cautiousWh += cautiousW * slotH;
    baseWh += baseW * slotH;
  }
  return { expectedNetW, cautiousNetW, sunnyNetW, darkSlots, expectedWh, cautiousWh, baseWh };
}

function hourOf(slot: number): number {
  return Math.floor((slot * HOURS) / DAY_SLOTS) % HOURS;
}

/** A lead-acid battery is to complete its absorption, an LFP one to be full, in good time. */
export function isCompletionAimedAt({
  settings,
  observation,
  fullOnDay,
}: Pick<PlanInput, "settings" | "observation" | "fullOnDay">): boolean {
  const { fullChargeEveryDays } = settings.battery;
  if (fullChargeEveryDays === null || fullOnDay === null) return false;
  const dueInDays = fullChargeEveryDays - (observation.localDay - fullOnDay);
  return dueInDays <= Math.min(COMPLETE_DAYS_BEFORE, fullChargeEveryDays / 2);
}

export function targetOf(
  { chemistry, sunsetTargetFraction }: BatterySettings,
  isCompleting: boolean,
): number {
  if (!isCompleting) return Math.min(1, sunsetTargetFraction + marginsOf(chemistry).target);
  return chemistry === "lfp" ? 1 : COMPLETED_FRACTION + COMPLETION_MARGIN_FRACTION;
}

function marginsOf(chemistry: BatterySettings["chemistry"]): (typeof MARGINS)["lfp" | "leadAcid"] {
  return chemistry === "lfp" ? MARGINS.lfp : MARGINS.leadAcid;
}

/** What no load may draw on: the floor, and a margin above it. [1] */
export function keptFloorOf(
  outlook: OutlookMemory,
  input: Pick<PlanInput, "settings" | "clearDays" | "observation">,
): number {
  return floorOf(outlook, input) + marginsOf(input.settings.battery.chemistry).floor;
}

/** The hard reserve, and on top of it the nights that the owner wants to get through. */
function floorOf(
  outlook: OutlookMemory,
  { settings, clearDays, observation }: Pick<PlanInput, "settings" | "clearDays" | "observation">,
): number {
  const { floorFraction, reserveNights, capacityAh, nominalVoltageV } = settings.battery;
  if (reserveNights === 0) return floorFraction;
  let nightWh = 0;
  for (let slot = 0; slot < DAY_SLOTS; slot += 1) {
    if (numberAt(clearDays.today.powerW, slot) > 0) continue;
    const at = { localDay: observation.localDay, hour: hourOf(slot) };
    nightWh += expectedBaseW(outlook.base, at) * SLOT_H;
  }
  return floorFraction + (reserveNights * nightWh) / (capacityAh * nominalVoltageV);
}

/**
 * Energy is counted at nominal voltage, as the state of charge is: what is charged at a higher one
 * is lost in part.
 */
export function curveBattery(
  battery: BatterySettings,
  { acceptance }: Pick<OutlookMemory, "acceptance">,
): CurveBattery {
  const { capacityAh, nominalVoltageV, absorptionVoltageV } = battery;
  const chargingV = (nominalVoltageV + absorptionVoltageV) / 2;
  return {
    capacityWh: capacityAh * nominalVoltageV,
    voltageShare: nominalVoltageV / chargingV,
    storedShare: (fraction) => Math.max(STORED_SHARE_MIN, storedShare(fraction, battery)),
    dischargeEfficiency: 1,
    acceptance: acceptanceTable(battery, acceptance),
  };
}

/** R at this instant; null: the plan says nothing about it. [1] 0…1 */
export function curveAt(plan: OutlookPlan, wallMs: number): number | null {
  const at = (wallMs - plan.fromMs) / SLOT_MS;
  if (at < 0 || wallMs >= plan.untilMs) return null;
  const place = Math.floor(at);
  const before = numberAt(plan.curve, place);
  return before + (at - place) * (numberAt(plan.curve, place + 1) - before);
}
