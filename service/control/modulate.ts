/**
 * Loads whose power can be set take what is left over, each at its rank.
 *
 * The problem: while the arrays are held back, battery power says nothing about what more there
 * would be; the battery draws just what it accepts. So the set-point feels its way up slowly, until
 * the battery has to give, or its voltage leaves the set-point; then it gives back what was too
 * much and rests before it feels again. Below the voltage set-point nothing is hidden: what flows
 * into the battery beyond its claim is what can still be taken, and the set-point follows that.
 *
 * Rising is slow (a charge controller needs a second or so to follow), giving back is immediate.
 */
import { inverterFreeW, inverterTakenVA, legFreeVA, shareOnLeg } from "./headroom.ts";
import { startsUnseenMs } from "./readings.ts";
import { plannedMostW } from "./room.ts";
import type { LoadTurn, Schedule, ScheduleInput } from "./schedule-turn.ts";
import { countAt, itemAt, numberAt } from "./item-at.ts";
import type { ModulatingSettings } from "./settings.ts";

/** Meter noise: less than this is neither charge nor discharge. [W] Ours, no source */
const KEPT_W = 30;
/** Share of a gap that is closed at each reading: the next one shows what it did. */
const GAIN = 0.5;
/** A load that had to give back rests this long before it feels upwards again. [ms] */
export const REST_AFTER_BACK_OFF_MS = 60_000;
/** …and then goes in steps of this share of its most for so long. */
const NEAR_STEP_FRACTION = 0.02;
const NEAR_FOR_MS = 300_000;

/** Moves the set-points of the running modulating loads. */
export function followSurplus(
  order: readonly LoadTurn[],
  input: ScheduleInput,
  result: Schedule,
): void {
  const running = runningFollowers(order, result);
  if (running.length === 0) return;
  keepWithin(running, { input, result }, feederLeftW);
  const { availableW } = input.site;
  if (availableW !== null && !hasChanged(order, result) && isReadingNew(running, input)) {
    follow(availableW, running, { input, result });
  }
  for (const turn of running) settle(turn, result);
}

function follow(availableW: number, running: readonly Follower[], now: Now): void {
  const { site, settings } = now.input;
  // A battery that is full at its set-point takes nothing: there only giving says "too far".
  const aimW = site.isCurtailed ? -KEPT_W : KEPT_W;
  const offerW = (availableW - aimW) * settings.inverter.efficiencyFraction;
  if (offerW < 0) giveBack(-offerW, running, now);
  if (startsUnseenMs(now.input) > 0) return;
  keepWithin(running, now, inverterLeftW);
  // A battery that is to get all that it takes must not lose it by being felt for.
  const isAllClaimed = site.claimW > 0 && (site.isFullChargeDue || (site.bandFraction ?? 0) < 0);
  if (offerW >= 0 && !isAllClaimed) rise(offerW, running, now);
  passUp(running, now);
}

interface Follower extends LoadTurn {
  readonly limits: ModulatingSettings;
}

function runningFollowers(order: readonly LoadTurn[], result: Schedule): Follower[] {
  const running: Follower[] = [];
  for (const turn of order) {
    const { modulating } = turn.settings;
    const isOn = turn.memory.stage > 0 && countAt(result.stages, turn.index) > 0;
    const { index, memory, settings, observation } = turn;
    if (modulating === null || !isOn) continue;
    running.push({ index, memory, settings, observation, limits: modulating });
  }
  return running;
}

/** Another load has just been switched, or has taken from these: its effect has to show first. */
function hasChanged(order: readonly LoadTurn[], result: Schedule): boolean {
  return order.some(
    ({ index, memory }) =>
      countAt(result.stages, index) !== memory.stage ||
      numberAt(result.powersW, index) !== memory.powerW,
  );
}

/** The battery's current was measured when what the set-points last did must have shown. */
function isReadingNew(running: readonly Follower[], { observation }: ScheduleInput): boolean {
  const { quality, ageMs } = observation.battery.currentA;
  const measuredAtMs = observation.monotonicMs - ageMs;
  return (
    quality === "fresh" &&
    running.every(({ memory, settings }) => measuredAtMs >= memory.setAtMs + settings.settleMs)
  );
}

interface Now {
  readonly input: ScheduleInput;
  readonly result: Schedule;
}

/** From the last in the order, down to the least power of each. */
function giveBack(excessW: number, running: readonly Follower[], { result }: Now): void {
  let leftW = excessW;
  for (const { index, limits } of [...running].reverse()) {
    const givenW = Math.min(leftW, Math.max(0, numberAt(result.powersW, index) - limits.minW));
    if (givenW === 0) continue;
    result.powersW[index] = numberAt(result.powersW, index) - givenW;
    result.notes[index] = "backed-off";
    leftW -= givenW;
  }
}

/** The first in the order that can still take more rises; the others wait for their turn. */
function rise(offerW: number, running: readonly Follower[], now: Now): void {
  const { input, result } = now;
  const { isCurtailed } = input.site;
  for (const turn of running) {
    const upW = headroomW(turn, now);
    if (upW <= 0) continue;
    if (!mayRise(turn, input)) return;
    const pacedW = pacedRiseW(turn, input);
    // At the voltage set-point the offer is only what the battery happens to accept.
    const wantedW = isCurtailed ? pacedW : Math.min(pacedW, GAIN * offerW);
    result.powersW[turn.index] = numberAt(result.powersW, turn.index) + Math.min(upW, wantedW);
    return;
  }
}

/** What a load further back has above its least power belongs to one further forward. */
function passUp(running: readonly Follower[], now: Now): void {
  const { input, result } = now;
  const first = running.find((turn) => headroomW(turn, now) > 0);
  const last = running.findLast(
    ({ index, limits }) => numberAt(result.powersW, index) > limits.minW,
  );
  if (first === undefined || last === undefined) return;
  if (running.indexOf(first) >= running.indexOf(last)) return;
  const aboveMinW = numberAt(result.powersW, last.index) - last.limits.minW;
  const movedW = Math.min(aboveMinW, headroomW(first, now), pacedRiseW(first, input));
  result.powersW[last.index] = numberAt(result.powersW, last.index) - movedW;
  result.powersW[first.index] = numberAt(result.powersW, first.index) + movedW;
}

function mayRise({ memory, settings }: Follower, { observation }: ScheduleInput): boolean {
  const nowMs = observation.monotonicMs;
  const isSettled = nowMs - memory.changedAtMs >= settings.settleMs;
  return memory.isConfirmed && isSettled && nowMs >= memory.riseAfterMs;
}

/**
 * What its own pace allows for the time until the next reading. Near the power at which it had to
 * give back it goes on in small steps, so that feeling does not become hunting. [W]
 */
function pacedRiseW({ memory, settings, limits }: Follower, input: ScheduleInput): number {
  const { riseWPerS, maxW, stepW } = limits;
  const nowMs = input.observation.monotonicMs;
  const paceMs = Math.max(settings.settleMs, input.settings.tickMs);
  const pacedW = (riseWPerS * Math.min(nowMs - memory.setAtMs, paceMs)) / 1000;
  const hasBackedOff = memory.riseAfterMs > memory.changedAtMs;
  const isNear = hasBackedOff && nowMs < memory.riseAfterMs + NEAR_FOR_MS;
  return Math.max(stepW, isNear ? Math.min(pacedW, NEAR_STEP_FRACTION * maxW) : pacedW);
}

/** How much further it may go before its own limit or another. [W] */
function headroomW(turn: Follower, now: Now): number {
  const ownW = turn.limits.maxW - numberAt(now.result.powersW, turn.index);
  return Math.min(ownW, inverterLeftW(turn, now), feederLeftW(turn, now));
}

/** What inverter and legs have left for it, in watts and in volt-amperes. [W] */
function inverterLeftW({ settings }: Follower, { input }: Now): number {
  const leftVA = input.ratings.continuousVA - inverterTakenVA(input);
  let leftW = Math.min(inverterFreeW(input), leftVA * settings.powerFactor);
  for (const leg of input.settings.inverter.legs.keys()) {
    const share = shareOnLeg(settings.legIndex, leg, input);
    const freeVA = legFreeVA(leg, input);
    if (share === 0 || freeVA === null) continue;
    leftW = Math.min(leftW, (freeVA * settings.powerFactor) / share);
  }
  return leftW;
}

function feederLeftW(turn: Follower, { input, result }: Now): number {
  const { panelIndex } = turn.settings;
  if (panelIndex === null) return Infinity;
  let takenW = 0;
  for (const [index, other] of input.settings.loads.entries()) {
    if (other.panelIndex !== panelIndex) continue;
    takenW += plannedMostW(index, numberAt(result.powersW, index), input);
  }
  return itemAt(input.settings.panels, panelIndex).feederMaxW - takenW;
}

/** Over a limit, the last in the order gives way at once. */
function keepWithin(
  running: readonly Follower[],
  now: Now,
  leftW: (turn: Follower, now: Now) => number,
): void {
  for (const turn of [...running].reverse()) {
    const overW = -leftW(turn, now);
    if (overW > 0) giveBack(overW, [turn], now);
  }
}

/** To a step that the device can make, never beyond what was meant. */
function settle({ index, limits }: Follower, result: Schedule): void {
  const { minW, stepW } = limits;
  const steps = Math.floor((numberAt(result.powersW, index) - minW) / stepW + ROUNDING);
  result.powersW[index] = minW + Math.max(0, steps) * stepW;
}

/** A whole number of steps, though floating point may put it a hair below. */
const ROUNDING = 1e-6;
