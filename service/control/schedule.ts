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
 * The order is total: priority, then least energy today, then id. Shedding goes from its end.
 */
import { itemAt } from "./item-at.ts";
import { followSurplus } from "./modulate.ts";
import type { LoadTurn, Schedule, ScheduleInput } from "./schedule-turn.ts";
import { keepOrShed } from "./shed.ts";
import { startWaiting } from "./start.ts";
import { verdictOf } from "./verdict.ts";

export function schedule(input: ScheduleInput): Schedule {
  const order = servingOrder(input);
  const result: Schedule = {
    stages: input.loads.map((load) => load.stage),
    powersW: input.loads.map((load) => load.powerW),
    verdicts: input.loads.map((load) => verdictOf(load.verdict, 0)),
    notes: input.loads.map(() => "none"),
    wantsPanel: input.panels.map(() => false),
  };
  keepOrShed(order, input, result);
  startWaiting(order, input, result);
  followSurplus(order, input, result);
  return result;
}

/** Loads in the order in which they are served: priority, least served today, id. */
function servingOrder(input: ScheduleInput): LoadTurn[] {
  const turns: LoadTurn[] = [];
  for (const [index, memory] of input.loads.entries()) {
    const settings = itemAt(input.settings.loads, index);
    turns.push({ index, memory, settings, observation: itemAt(input.observation.loads, index) });
  }
  return turns.sort(
    (a, b) =>
      a.settings.priority - b.settings.priority ||
      a.memory.usedTodayWh - b.memory.usedTodayWh ||
      (a.memory.id < b.memory.id ? -1 : 1),
  );
}
