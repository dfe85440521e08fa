/**
 * Do the readings show yet what was last switched? They come at their own pace and lag behind it; a
 * decision on an older one would give the same room twice, or take it twice.
 */
import { itemAt } from "./item-at.ts";
import type { LoadMemory } from "./memory.ts";
import type { Observation, Reading } from "./observation.ts";
import type { ScheduleInput } from "./schedule-turn.ts";
import type { LoadSettings } from "./settings.ts";

type Input = Pick<ScheduleInput, "settings" | "observation" | "loads">;

/** By how much the readings are too old to show what the running loads take. [ms]; ≤ 0: not. */
export function startsUnseenMs(input: Input): number {
  return unseenMs(input, (load, settings) =>
    load.stage === 0
      ? -Infinity
      : load.setAtMs + Math.max(settings.settleMs, settings.startPowerMs),
  );
}

/** They may not show yet what the loads that were last stopped have left. */
export function isStopUnseen(input: Input): boolean {
  const leftMs = unseenMs(input, (load, settings) =>
    load.stage > 0 ? -Infinity : load.setAtMs + settings.settleMs,
  );
  return leftMs > 0;
}

function unseenMs(
  { settings, observation, loads }: Input,
  showsAtMs: (load: LoadMemory, settings: LoadSettings) => number,
): number {
  let lastMs = -Infinity;
  for (const [index, load] of loads.entries()) {
    lastMs = Math.max(lastMs, showsAtMs(load, itemAt(settings.loads, index)));
  }
  return lastMs - oldestMs(observation);
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
