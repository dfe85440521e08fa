/**
 * Is there room for a load: power, inverter, legs, battery, feeder? Each test answers with the
 * verdict that speaks against it, or null.
 */
import { isAskedToRun } from "./asked.ts";
import { dischargeLimitA, isChargeBlocked } from "./battery-limits.ts";
import type { Verdict } from "./decision.ts";
import { hiddenAtMostW, hiddenForStartW } from "./hidden-power.ts";
import { inverterFreeW, inverterTakenVA, legFreeVA, shareOnLeg } from "./headroom.ts";
import { itemAt, numberAt } from "./item-at.ts";
import type { LoadTurn, ScheduleInput } from "./schedule-turn.ts";
import { allotmentW, largestPowerW, limitW } from "./stage-power.ts";
import { drawnW } from "./surplus.ts";
import { measuredVerdict, timedVerdict, verdictOf } from "./verdict.ts";

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
  /** Of that, what goes because its load is stopped before. [W] AC */
  readonly stoppedW: number;
}

export interface StagePlan extends Plan {
  readonly stage: number;
}

/** Written out field by field: a spread takes longer than all the rest of looking for room. */
export function atStage({ powersW, yieldedW, stoppedW }: Plan, stage: number): StagePlan {
  return { powersW, yieldedW, stoppedW, stage };
}

interface Wanted extends StagePlan {
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
  wanted: StagePlan,
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
 * What the load lacks beyond what flows already, at the battery bus: held-back arrays, or else the
 * battery, would have to give it.
 *
 * @returns [W]; ≤ 0: nothing; null: by day, without a current, the band alone decides.
 */
export function unseenPowerW(
  turn: LoadTurn,
  input: ScheduleInput,
  wanted: StagePlan,
): number | null {
  return unseenW(input, wantedOf(turn, wanted));
}

function wantedOf(turn: LoadTurn, wanted: StagePlan): Wanted {
  const { stage, powersW, yieldedW, stoppedW } = wanted;
  const { powerW } = turn.memory;
  const addedW = allotmentW(turn, stage) - powerW;
  const addedMostW = limitW(turn, stage) - powerW;
  return { stage, powersW, yieldedW, stoppedW, addedW, addedMostW };
}

function unseenW(input: ScheduleInput, wanted: Wanted): number | null {
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
 * Power to spare must cover the load, what held-back arrays surely add included; or the band must
 * be able to pay for one minimum run: the difference, where a load may be tried, and all that it
 * takes, where it may not. For what a person asks the battery pays.
 */
function powerRefusal(turn: LoadTurn, input: ScheduleInput, wanted: Wanted): Verdict | null {
  const { site, observation } = input;
  if (isAskedToRun(turn.memory)) return null;
  const lackedW = unseenW(input, wanted);
  if (lackedW === null || lackedW <= 0) return null;
  const missingW = lackedW - hiddenForStartW(input, turn.settings);
  if (missingW <= 0 || canBandPay(turn, input, { wanted, lackedW, missingW })) {
    const backOffMs = turn.memory.tryAfterMs - observation.monotonicMs;
    return backOffMs > 0 ? timedVerdict("waiting-try", 0, backOffMs) : null;
  }
  if (site.isFullChargeDue) return verdictOf("waiting-full-charge", 0);
  const code = site.isDaylight === false ? "waiting-night" : "waiting-power";
  const measured =
    site.availableW === null ? null : site.availableW + hiddenForStartW(input, turn.settings);
  return measuredVerdict(code, 0, { measured, limit: neededW(input, wanted) });
}

/** A try that the sun cannot make good, even at the very best, is none. */
function canBandPay(
  { settings }: LoadTurn,
  input: ScheduleInput,
  {
    wanted,
    lackedW,
    missingW,
  }: { readonly wanted: Wanted; readonly lackedW: number; readonly missingW: number },
): boolean {
  if (settings.isTolerant && lackedW > hiddenAtMostW(input)) return false;
  const lentW = settings.isTolerant ? missingW : Math.max(missingW, neededW(input, wanted));
  return (lentW * tryMs(settings.minRunMs)) / MS_PER_HOUR <= input.site.lendableWh;
}

function inverterRefusal(turn: LoadTurn, input: ScheduleInput, wanted: Wanted): Verdict | null {
  const { continuousVA, surgeVA } = input.ratings;
  const leftW = inverterFreeW(input) + sum(wanted.yieldedW);
  if (wanted.addedMostW > leftW) {
    return measuredVerdict("waiting-inverter", 0, { measured: leftW, limit: wanted.addedMostW });
  }
  const addedVA = wanted.addedMostW / turn.settings.powerFactor;
  const takenVA = inverterTakenVA(input);
  const leftVA = continuousVA - takenVA + sum(wanted.yieldedW);
  if (addedVA > leftVA) {
    return measuredVerdict("waiting-apparent", 0, { measured: leftVA, limit: addedVA });
  }
  // What is given up in this tick is still there while a motor starts; what was stopped is not.
  const startVA = turn.settings.startPowerVA ?? addedVA;
  const surgeLeftVA = surgeVA - takenVA + wanted.stoppedW;
  if (startVA <= surgeLeftVA) return null;
  return measuredVerdict("waiting-surge", 0, { measured: surgeLeftVA, limit: startVA });
}

function legRefusal(turn: LoadTurn, input: ScheduleInput, wanted: Wanted): Verdict | null {
  const { legIndex, powerFactor } = turn.settings;
  const legs = input.settings.inverter.legs.length;
  for (let leg = 0; leg < legs; leg += 1) {
    const freeVA = legFreeVA(leg, input);
    const neededVA = (shareOnLeg(legIndex, leg, input) * wanted.addedMostW) / powerFactor;
    if (neededVA === 0 || freeVA === null) continue;
    const leftVA = freeVA + yieldedOnLegW(leg, input, wanted);
    if (neededVA > leftVA) {
      return measuredVerdict("waiting-leg", 0, { measured: leftVA, limit: neededVA });
    }
  }
  return null;
}

function yieldedOnLegW(leg: number, input: ScheduleInput, { yieldedW }: Plan): number {
  let totalW = 0;
  for (let index = 0; index < yieldedW.length; index += 1) {
    const { legIndex } = itemAt(input.settings.loads, index);
    totalW += numberAt(yieldedW, index) * shareOnLeg(legIndex, leg, input);
  }
  return totalW;
}

/** The battery's discharge limit, and its voltage while a motor starts. */
function batteryRefusal(turn: LoadTurn, input: ScheduleInput, wanted: Wanted): Verdict | null {
  const { voltageV } = input.observation.battery;
  if (voltageV.quality !== "fresh") return null;
  const { battery, inverter } = input.settings;
  const limitA = dischargeLimitA(input.observation, battery);
  const { batteryPowerW } = input.site;
  if (limitA !== null && batteryPowerW !== null) {
    const mostW = wanted.addedMostW / inverter.efficiencyFraction;
    const givenW = mostW - yieldedDcW(input, wanted) - batteryPowerW;
    const givenA = givenW / voltageV.value;
    if (givenA > limitA) {
      return measuredVerdict("waiting-discharge-limit", 0, { measured: givenA, limit: limitA });
    }
  }
  const { startPowerVA } = turn.settings;
  if (startPowerVA === null) return null;
  const startA = startPowerVA / inverter.efficiencyFraction / voltageV.value;
  const sagV = voltageV.value - startA * battery.resistanceOhm;
  if (sagV > battery.lowVoltageV) return null;
  return measuredVerdict("waiting-sag", 0, { measured: sagV, limit: battery.lowVoltageV });
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
  const { loads } = input.settings;
  for (let index = 0; index < loads.length; index += 1) {
    if (itemAt(loads, index).panelIndex !== panelIndex || index === turn.index) continue;
    const plannedW = numberAt(wanted.powersW, index);
    // One that was stopped for it is planned with nothing, whatever it drew.
    const mostW = plannedMostW(index, plannedW, input);
    takenW += Math.max(0, mostW - numberAt(wanted.yieldedW, index));
  }
  const wholeW = limitW(turn, wanted.stage);
  const leftW = panel.feederMaxW - Math.max(takenW, shownW(panelIndex, { turn, input, wanted }));
  if (wholeW <= leftW) return null;
  return measuredVerdict("waiting-feeder", 0, { measured: leftW, limit: wholeW });
}

/** What the panel's meter shows beside the load, less what others give up there. [W] */
function shownW(
  panelIndex: number,
  now: { readonly turn: LoadTurn; readonly input: ScheduleInput; readonly wanted: Plan },
): number {
  const { turn, input, wanted } = now;
  const { quality, value } = itemAt(input.observation.panels, panelIndex).powerW;
  if (quality !== "fresh") return 0;
  let restW = value - drawnW(turn.memory, turn.observation.powerW);
  const { loads } = input.settings;
  for (let index = 0; index < loads.length; index += 1) {
    const isBeside = itemAt(loads, index).panelIndex === panelIndex;
    if (isBeside) restW -= numberAt(wanted.yieldedW, index);
  }
  return restW;
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
  for (let index = 0; index < powersW.length; index += 1) totalW += numberAt(powersW, index);
  return totalW;
}
