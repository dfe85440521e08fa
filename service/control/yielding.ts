/**
 * What loads that are ranked later can give up for one that is ranked before them: a modulating
 * load its power above the least, at once; any load its whole run, once that has been long enough.
 */
import { isAskedToRun } from "./asked.ts";
import { countAt, itemAt, numberAt } from "./item-at.ts";
import { isStopUnseen } from "./readings.ts";
import { roomRefusal } from "./room.ts";
import type { Plan } from "./room.ts";
import type { LoadTurn, Schedule, ScheduleInput } from "./schedule-turn.ts";
import { largestPowerW } from "./stage-power.ts";
import { minRunLeftMs } from "./shed.ts";
import { drawnW } from "./surplus.ts";
import { verdictOf } from "./verdict.ts";

/**
 * Between loads of one rank the turn changes when the running one is ahead of the other by this
 * long at the larger one's power. [h] Ours, no source.
 */
const TURN_AHEAD_H = 0.5;

/** The loads as they are planned, with every later modulating load down at its least power. */
export function planFor(at: number, order: readonly LoadTurn[], result: Schedule): Plan {
  const yieldedW = nothingLike(result.powersW);
  for (let later = at + 1; later < order.length; later += 1) {
    const { index, settings, memory } = itemAt(order, later);
    if (settings.modulating === null || !staysOn(memory.stage, index, result)) continue;
    yieldedW[index] = Math.max(0, numberAt(result.powersW, index) - settings.modulating.minW);
  }
  return { powersW: result.powersW, yieldedW, stoppedW: 0 };
}

/** Begun as a copy: so engines keep it in the form of a list of powers, though all are 0. */
function nothingLike(powersW: readonly number[]): number[] {
  const nothing = powersW.slice();
  for (let index = 0; index < nothing.length; index += 1) nothing[index] = 0;
  return nothing;
}

/**
 * Takes from the later modulating loads, the last of them first, what the load lacks; all that they
 * yield where it is not power that it lacks.
 *
 * @param missingW - At the battery bus; ≤ 0: power is not what it lacks. [W]
 * @returns What they give, at the battery bus. [W]
 */
export function takeFromLater(
  missingW: number,
  later: readonly LoadTurn[],
  now: {
    readonly turn: LoadTurn;
    readonly input: ScheduleInput;
    readonly result: Schedule;
    readonly plan: Plan;
    readonly stage: number;
  },
): number {
  const { input, result, plan } = now;
  const neededW = Math.max(0, missingW) * input.settings.inverter.efficiencyFraction;
  const partly = yieldUpTo(neededW, later, plan);
  const { powersW, stoppedW } = plan;
  const wanted = { powersW, yieldedW: partly, stoppedW, stage: now.stage };
  const isEnough = roomRefusal(now.turn, input, wanted) === null;
  let takenW = 0;
  for (const [index, givenW] of (isEnough ? partly : plan.yieldedW).entries()) {
    result.powersW[index] = numberAt(result.powersW, index) - givenW;
    takenW += givenW;
  }
  return takenW / input.settings.inverter.efficiencyFraction;
}

function yieldUpTo(neededW: number, later: readonly LoadTurn[], plan: Plan): readonly number[] {
  const yieldedW = nothingLike(plan.yieldedW);
  let leftW = neededW;
  for (const { index } of [...later].reverse()) {
    const givenW = Math.min(leftW, numberAt(plan.yieldedW, index));
    yieldedW[index] = givenW;
    leftW -= givenW;
  }
  return yieldedW;
}

/**
 * Stops the last of the loads that have to make room for the one at `at`, if stopping some would
 * make enough; the others follow in later ticks.
 *
 * @returns Whether room is being made.
 */
export function displaceFor(
  at: number,
  order: readonly LoadTurn[],
  now: { readonly input: ScheduleInput; readonly result: Schedule },
): boolean {
  const turn = itemAt(order, at);
  const { input, result } = now;
  const plan = planFor(at, order, result);
  const victims = enoughVictims(turn, order.slice(at + 1), { input, result, plan });
  const last = victims[0];
  if (last === undefined) return false;
  const nowMs = input.observation.monotonicMs;
  const mayStop = nowMs - input.lastStopMs >= input.settings.staggerMs;
  if (!mayStop || isStopUnseen(input) || hasShed(order, result)) return true;
  result.stages[last.index] = 0;
  result.powersW[last.index] = 0;
  result.verdicts[last.index] = verdictOf("stopped-displaced", 0);
  return true;
}

/** The fewest later loads, from the last, that have to go; empty if even all would not do. */
function enoughVictims(
  turn: LoadTurn,
  later: readonly LoadTurn[],
  now: { readonly input: ScheduleInput; readonly result: Schedule; readonly plan: Plan },
): readonly LoadTurn[] {
  const candidates = [...later].reverse().filter((other) => mayBeStopped(other, turn, now));
  let victims: LoadTurn[] = [];
  for (const candidate of candidates) {
    victims.push(candidate);
    if (fitsWithout(turn, victims, now)) break;
    if (candidate === candidates.at(-1)) return [];
  }
  // Of those that were taken on the way, some may turn out not to be needed.
  for (const victim of victims) {
    const others = victims.filter((other) => other !== victim);
    if (others.length > 0 && fitsWithout(turn, others, now)) victims = others;
  }
  return victims;
}

function fitsWithout(
  turn: LoadTurn,
  victims: readonly LoadTurn[],
  { input, plan }: { readonly input: ScheduleInput; readonly plan: Plan },
): boolean {
  const yieldedW = [...plan.yieldedW];
  const powersW = [...plan.powersW];
  let stoppedW = 0;
  // One that its thermostat holds off draws nothing, and frees nothing by going.
  for (const { index, memory, observation } of victims) {
    const freedW = Math.min(memory.powerW, drawnW(memory, observation.powerW));
    yieldedW[index] = freedW;
    powersW[index] = 0;
    stoppedW += freedW;
  }
  const wanted = { powersW, yieldedW, stoppedW, stage: turn.memory.stage + 1 };
  return roomRefusal(turn, input, wanted) === null;
}

function mayBeStopped(
  other: LoadTurn,
  turn: LoadTurn,
  { input, result }: { readonly input: ScheduleInput; readonly result: Schedule },
): boolean {
  const { memory, settings, index } = other;
  if (memory.stage === 0 || countAt(result.stages, index) !== memory.stage) return false;
  // People are warned before their sockets go off; there is no time for that here.
  if (settings.sockets !== null) return false;
  if (isAskedToRun(memory)) return false;
  if (minRunLeftMs(other, input.observation.monotonicMs) > 0) return false;
  if (settings.priority > turn.settings.priority) return true;
  const turnW = Math.max(largestPowerW(settings), largestPowerW(turn.settings));
  return memory.usedTodayWh - turn.memory.usedTodayWh >= TURN_AHEAD_H * turnW;
}

function hasShed(order: readonly LoadTurn[], result: Schedule): boolean {
  return order.some(({ index, memory }) => countAt(result.stages, index) < memory.stage);
}

function staysOn(stage: number, index: number, result: Schedule): boolean {
  return stage > 0 && countAt(result.stages, index) > 0;
}
