/**
 * Do the readings show yet what was last switched? They come at their own pace and lag behind it; a
 * decision on an older one would give the same room twice, or take it twice.
 */
import { itemAt } from "./item-at.ts";
import type { Observation, Reading } from "./observation.ts";
import type { ScheduleInput } from "./schedule-turn.ts";

type Input = Pick<ScheduleInput, "settings" | "observation" | "loads">;

/** By how much the readings are too old to show what the running loads take. [ms]; ≤ 0: not. */
export function startsUnseenMs({ settings, observation, loads }: Input): number {
  let lastMs = -Infinity;
  for (let index = 0; index < loads.length; index += 1) {
    const { stage, setAtMs } = itemAt(loads, index);
    const { settleMs, startPowerMs } = itemAt(settings.loads, index);
    if (stage > 0) lastMs = Math.max(lastMs, setAtMs + Math.max(settleMs, startPowerMs));
  }
  return lastMs - oldestMs(observation);
}

/** They may not show yet what the loads that were last stopped have left. */
export function isStopUnseen({ settings, observation, loads }: Input): boolean {
  let lastMs = -Infinity;
  for (let index = 0; index < loads.length; index += 1) {
    const { stage, setAtMs } = itemAt(loads, index);
    const { settleMs } = itemAt(settings.loads, index);
    if (stage === 0) lastMs = Math.max(lastMs, setAtMs + settleMs);
  }
  return lastMs - oldestMs(observation) > 0;
}

/** When the oldest of the readings that tell of room was measured. */
function oldestMs({ monotonicMs, battery, inverter }: Observation): number {
  let ageMs = Math.max(freshAgeMs(battery.currentA), freshAgeMs(inverter.powerW));
  for (const reading of inverter.legPowersW) ageMs = Math.max(ageMs, freshAgeMs(reading));
  return monotonicMs - ageMs;
}

function freshAgeMs({ quality, ageMs }: Reading): number {
  return quality === "fresh" ? ageMs : 0;
}
