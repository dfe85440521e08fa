import { itemAt } from "./item-at.ts";
import type { LoadMemory } from "./memory.ts";
import type { LoadSettings } from "./settings.ts";

/** Rated AC power of a stage; 0 = off; of a modulating load the least that it runs at. [W] */
export function stagePowerW(load: LoadSettings, stage: number): number {
  return stage === 0 ? 0 : itemAt(load.stagesW, stage - 1);
}

/** The most that the load draws, whoever switches it. [W] AC */
export function largestPowerW(load: LoadSettings): number {
  return load.modulating?.maxW ?? stagePowerW(load, load.stagesW.length);
}

/** What a stage is allotted when it is commanded. [W] AC */
export function allotmentW(
  load: { readonly settings: LoadSettings; readonly memory: LoadMemory },
  stage: number,
): number {
  return stagePowerW(load.settings, stage);
}
