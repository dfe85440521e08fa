/**
 * Which loads run: first those that run are asked whether they may go on, then those that wait
 * whether one of them may start.
 *
 * The problem: a load that starts changes the very figures it was started on, a cloud passes in
 * the middle of it, and two loads that see the same spare power take it twice. So everything is
 * hysteresis and patience: start and stop marks lie apart, each with a time for which it must hold;
 * minimum run and rest are kept whatever happens (only an interlock, in another pass, breaks them);
 * and at most one load starts, and one is shed, per stagger time, so that the next decision sees
 * what the last one did.
 *
 * The order is total: priority, then who has to be ready, then least energy today, then id.
 * Shedding goes from its end.
 */
import type { Verdict } from "./decision.ts";
import { itemAt } from "./item-at.ts";
import { followSurplus } from "./modulate.ts";
import { turnOf } from "./schedule-turn.ts";
import type { LoadTurn, Schedule, ScheduleInput, TurnNote } from "./schedule-turn.ts";
import { keepOrShed } from "./shed.ts";
import { allWait, startWaiting } from "./start.ts";
import { verdictOf } from "./verdict.ts";

export function schedule(input: ScheduleInput): Schedule {
  if (isNothingOn(input)) {
    const waiting = undecided(input);
    if (allWait(input, waiting)) return waiting;
  }
  const order = servingOrder(input);
  const result = undecided(input);
  keepOrShed(order, input, result);
  startWaiting(order, input, result);
  followSurplus(order, input, result);
  return result;
}

function isNothingOn({ loads }: ScheduleInput): boolean {
  for (let index = 0; index < loads.length; index += 1) {
    if (itemAt(loads, index).stage > 0) return false;
  }
  return true;
}

/** Everything as it is; each load's verdict is replaced by that of its turn. */
function undecided({ loads, panels }: ScheduleInput): Schedule {
  // Lists that grow are filled in slower than lists of their full length.
  const stages = new Array<number>(loads.length);
  const powersW = new Array<number>(loads.length);
  const verdicts = new Array<Verdict>(loads.length);
  const notes = new Array<TurnNote>(loads.length);
  const wantsPanel = new Array<boolean>(panels.length);
  for (let index = 0; index < loads.length; index += 1) {
    const { stage, powerW } = itemAt(loads, index);
    stages[index] = stage;
    powersW[index] = stage === 0 ? 0 : powerW;
    verdicts[index] = UNDECIDED;
    notes[index] = "none";
  }
  for (let index = 0; index < panels.length; index += 1) wantsPanel[index] = false;
  return { stages, powersW, verdicts, notes, wantsPanel };
}

const UNDECIDED = verdictOf("waiting-priority", 0);

/**
 * Loads in the order in which they are served: see above. Put in place one
 * by one: they come in this order or nearly so, and are few.
 */
function servingOrder(input: ScheduleInput): LoadTurn[] {
  const { loads } = input;
  const turns = new Array<LoadTurn>(loads.length);
  for (let index = 0; index < loads.length; index += 1) {
    const turn = turnOf(index, input);
    let to = index;
    for (; to > 0 && isServedBefore(turn, itemAt(turns, to - 1)); to -= 1) {
      turns[to] = itemAt(turns, to - 1);
    }
    turns[to] = turn;
  }
  return turns;
}

function isServedBefore(one: LoadTurn, other: LoadTurn): boolean {
  if (one.settings.priority !== other.settings.priority) {
    return one.settings.priority < other.settings.priority;
  }
  if (hasToBeReady(one) !== hasToBeReady(other)) return hasToBeReady(one);
  if (one.memory.usedTodayWh !== other.memory.usedTodayWh) {
    return one.memory.usedTodayWh < other.memory.usedTodayWh;
  }
  return one.memory.id < other.memory.id;
}

function hasToBeReady({ memory }: LoadTurn): boolean {
  return memory.asked !== null && memory.asked.wants === "be-ready";
}
