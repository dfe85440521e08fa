/** What the core remembers at the first tick of a run. */
import { initialMemory } from "./control/memory.ts";
import type { Memory } from "./control/memory.ts";
import type { Observation } from "./control/observation.ts";
import { restoreMemory } from "./control/restored-memory.ts";
import type { ControlSettings } from "./control/settings.ts";
import type { SavedMemory } from "./history/memory-file.ts";
import { isPlausible } from "./wall-clock.ts";

export function firstMemory(
  restored: SavedMemory | null | undefined,
  control: ControlSettings,
  { monotonicMs: nowMs, wallMs, isWallClockPlausible }: Observation,
): Memory {
  if (restored === null || restored === undefined) return initialMemory(control, nowMs);
  const { body, wallMs: savedWallMs } = restored;
  return restoreMemory(body, control, {
    nowMs,
    wallMs,
    savedWallMs,
    isWallClockPlausible: isWallClockPlausible && isPlausible(savedWallMs),
  });
}
