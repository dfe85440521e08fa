/**
 * Is there room for a load: power, inverter, legs, battery, feeder? Each test answers with the
 * verdict that speaks against it, or null.
 */
import { dischargeLimitA, isChargeBlocked } from "./battery-limits.ts";
import type { Verdict } from "./decision.ts";
import { itemAt } from "./item-at.ts";
import type { LoadTurn, ScheduleInput } from "./schedule-turn.ts";
import { allotmentW, largestPowerW, limitW } from "./stage-power.ts";
import { drawnW } from "./surplus.ts";
import { verdictOf } from "./verdict.ts";

const MS_PER_HOUR = 3_600_000;
/** The band must carry a try for at least this long, however short the minimum run. [ms] */
const TRY_MS = 300_000;
/** With nothing to take up an error, a load must fit with this much to spare. Ours, no source. */
const CHARGE_BLOCKED_MARGIN = 1.25;

/** The other loads as they would be while this one runs. */
export interface Plan {
  /** AC power allotted to each load. [W] */
  readonly powersW: readonly number[];
  /** What each running load would give up for it. [W] AC */
  readonly yieldedW: readonly number[];
}

interface Wanted extends Plan {
  readonly stage: number;
  /** More than it draws now. [W] AC */
  readonly addedW: number;
  /** …and at the very most. [W] AC */
  readonly addedMostW: number;
}

/** How long the band has to carry what is not there: a whole minimum run. [ms] */
export function tryMs(minRunMs: number): number {
  return Math.max(minRunMs, TRY_MS);
}

/** Why there is no room for the load at `stage`; null if there is. */
export function roomRefusal(
  turn: LoadTurn,
  input: ScheduleInput,
  wanted: Plan & { readonly stage: number },
): Verdict | null {
  const full = wantedOf(turn, wanted);
  return (
    powerRefusal(turn, input, full) ??
    inverterRefusal(turn, input, full) ??
    legRefusal(turn, input, full) ??
    batteryRefusal(turn, input, full) ??
    feederRefusal(turn, input, full)
  );
}

/**
 * What the battery would have to give for the load beyond what is on offer, at its bus.
 *
 * @returns [W]; ≤ 0: nothing; null: by day, without a current, the band alone decides.
 */
export function shortPowerW(
  turn: LoadTurn,
  input: ScheduleInput,
  wanted: Plan & { readonly stage: number },
): number | null {
  return shortW(input, wantedOf(turn, wanted));
}

function wantedOf(turn: LoadTurn, wanted: Plan & { readonly stage: number }): Wanted {
  const { stage, powersW, yieldedW } = wanted;
  const { powerW } = turn.memory;
  const addedW = allotmentW(turn, stage) - powerW;
  return { stage, powersW, yieldedW, addedW, addedMostW: limitW(turn, stage) - powerW };
}

function shortW(input: ScheduleInput, wanted: Wanted): number | null {
  const { site } = input;
  // In the dark, or in doubt, a missing current is no reason to start anything.
  if (site.availableW === null && site.isDaylight === true) return null;
  return neededW(input, wanted) - (site.availableW ?? 0) - yieldedDcW(input, wanted);
}

/** At the battery bus. [W] */
function neededW(input: ScheduleInput, wanted: Wanted): number {
  const margin = isChargeBlocked(input.observation) ? CHARGE_BLOCKED_MARGIN : 1;
  return (margin * wanted.addedW) / input.settings.inverter.efficiencyFraction;
}

function yieldedDcW(input: ScheduleInput, { yieldedW }: Plan): number {
  return sum(yieldedW) / input.settings.inverter.efficiencyFraction;
}

/**
 * Power to spare must cover the load; or the band must be able to pay for one minimum run: the
 * difference, where a load may be tried, and all that it takes, where it may not.
 */
function powerRefusal(turn: LoadTurn, input: ScheduleInput, wanted: Wanted): Verdict | null {
  const { site, observation } = input;
  const { settings, memory } = turn;
  const missingW = shortW(input, wanted);
  if (missingW === null || missingW <= 0) return null;
  const lentW = settings.isTolerant ? missingW : Math.max(missingW, neededW(input, wanted));
  if ((lentW * tryMs(settings.minRunMs)) / MS_PER_HOUR <= site.lendableWh) {
    const backOffMs = settings.isTolerant ? memory.tryAfterMs - observation.monotonicMs : 0;
    return backOffMs > 0 ? verdictOf("waiting-try", 0, { remainingMs: backOffMs }) : null;
  }
  if (site.isFullChargeDue) return verdictOf("waiting-full-charge", 0);
  const code = site.isDaylight === false ? "waiting-night" : "waiting-power";
  return verdictOf(code, 0, { measured: site.availableW, limit: neededW(input, wanted) });
}

function inverterRefusal(turn: LoadTurn, input: ScheduleInput, wanted: Wanted): Verdict | null {
  const { continuousW, continuousVA, surgeVA } = input.ratings;
  const freeW = inverterFreeW(input);
  const leftW = freeW + sum(wanted.yieldedW);
  if (wanted.addedMostW > leftW) {
    return verdictOf("waiting-inverter", 0, { measured: leftW, limit: wanted.addedMostW });
  }
  const addedVA = wanted.addedMostW / turn.settings.powerFactor;
  const presentVA = continuousW - freeW + reactiveVA(input);
  const leftVA = continuousVA - presentVA + sum(wanted.yieldedW);
  if (addedVA > leftVA) {
    return verdictOf("waiting-apparent", 0, { measured: leftVA, limit: addedVA });
  }
  const startVA = turn.settings.startPowerVA ?? addedVA;
  const surgeLeftVA = surgeVA - presentVA;
  if (startVA <= surgeLeftVA) return null;
  return verdictOf("waiting-surge", 0, { measured: surgeLeftVA, limit: startVA });
}

/**
 * Where the inverter's power is not measured, what the running loads were allotted counts. What
 * live sockets may take beyond their present use is kept for them.
 */
function inverterFreeW({ site, ratings, loads, settings, observation }: ScheduleInput): number {
  let takenW = 0;
  let keptW = 0;
  for (const [index, load] of loads.entries()) {
    takenW += load.powerW;
    const { sockets } = itemAt(settings.loads, index);
    if (sockets === null || load.stage === 0) continue;
    keptW += Math.max(0, sockets.maximumW - drawnW(load, itemAt(observation.loads, index).powerW));
  }
  return (site.inverterHeadroomW ?? ratings.continuousW - takenW) - keptW;
}

/** What running motors take from the inverter beyond their real power. [VA] */
function reactiveVA({ loads, settings }: ScheduleInput): number {
  let totalVA = 0;
  for (const [index, { powerW }] of loads.entries()) {
    totalVA += powerW / itemAt(settings.loads, index).powerFactor - powerW;
  }
  return totalVA;
}

/** A load that names no leg counts on all of them alike. */
function legRefusal(turn: LoadTurn, input: ScheduleInput, wanted: Wanted): Verdict | null {
  const { legs } = input.settings.inverter;
  const { legIndex, powerFactor } = turn.settings;
  for (const [index, leg] of legs.entries()) {
    const share = shareOnLeg(legIndex, index, legs.length);
    const power = itemAt(input.observation.inverter.legPowersW, index);
    if (share === 0 || power.quality !== "fresh") continue;
    const neededVA = (share * wanted.addedMostW) / powerFactor;
    const yieldedW = yieldedOnLegW(index, input, wanted);
    const leftVA = input.ratings.share * leg.continuousVA - power.value + yieldedW;
    if (neededVA > leftVA) {
      return verdictOf("waiting-leg", 0, { measured: leftVA, limit: neededVA });
    }
  }
  return null;
}

function yieldedOnLegW(leg: number, { settings }: ScheduleInput, { yieldedW }: Plan): number {
  let totalW = 0;
  for (const [index, powerW] of yieldedW.entries()) {
    const { legIndex } = itemAt(settings.loads, index);
    totalW += powerW * shareOnLeg(legIndex, leg, settings.inverter.legs.length);
  }
  return totalW;
}

function shareOnLeg(legIndex: number | null, leg: number, legCount: number): number {
  if (legIndex === null) return 1 / legCount;
  return legIndex === leg ? 1 : 0;
}

/** The battery's discharge limit, and its voltage while a motor starts. */
function batteryRefusal(turn: LoadTurn, input: ScheduleInput, wanted: Wanted): Verdict | null {
  const { voltageV } = input.observation.battery;
  if (voltageV.quality !== "fresh") return null;
  const { battery, inverter } = input.settings;
  const limitA = dischargeLimitA(input.observation, battery);
  const { batteryPowerW } = input.site;
  if (limitA !== null && batteryPowerW !== null) {
    const givenW = neededW(input, wanted) - yieldedDcW(input, wanted) - batteryPowerW;
    const givenA = givenW / voltageV.value;
    if (givenA > limitA) {
      return verdictOf("waiting-discharge-limit", 0, { measured: givenA, limit: limitA });
    }
  }
  const { startPowerVA } = turn.settings;
  if (startPowerVA === null) return null;
  const startA = startPowerVA / inverter.efficiencyFraction / voltageV.value;
  const sagV = voltageV.value - startA * battery.resistanceOhm;
  if (sagV > battery.lowVoltageV) return null;
  return verdictOf("waiting-sag", 0, { measured: sagV, limit: battery.lowVoltageV });
}

/**
 * The panel's loads and this one against the feeder's continuous limit. A load that is on by hand
 * counts with the most that it can draw.
 */
function feederRefusal(turn: LoadTurn, input: ScheduleInput, wanted: Wanted): Verdict | null {
  const { panelIndex } = turn.settings;
  if (panelIndex === null) return null;
  const panel = itemAt(input.settings.panels, panelIndex);
  let takenW = 0;
  for (const [index, other] of input.settings.loads.entries()) {
    if (other.panelIndex !== panelIndex || index === turn.index) continue;
    const plannedW = itemAt(wanted.powersW, index);
    takenW += plannedMostW(index, plannedW, input) - itemAt(wanted.yieldedW, index);
  }
  const wholeW = limitW(turn, wanted.stage);
  const leftW = panel.feederMaxW - takenW;
  if (wholeW <= leftW) return null;
  return verdictOf("waiting-feeder", 0, { measured: leftW, limit: wholeW });
}

/**
 * The most that a load may draw as it is planned: more than what was learned of it, all that
 * sockets may take, and the most of all for one that is on by hand.
 */
export function plannedMostW(index: number, plannedW: number, input: ScheduleInput): number {
  const settings = itemAt(input.settings.loads, index);
  const memory = itemAt(input.loads, index);
  if (memory.isByHand) return largestPowerW(settings);
  return plannedW === 0 ? 0 : Math.max(plannedW, limitW({ settings, memory }, memory.stage));
}

function sum(powersW: readonly number[]): number {
  let totalW = 0;
  for (const powerW of powersW) totalW += powerW;
  return totalW;
}
