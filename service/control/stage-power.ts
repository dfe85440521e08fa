import { itemAt } from "./item-at.ts";
import type { LoadSettings } from "./settings.ts";

/** Rated AC power of a stage; 0 = off. [W] */
export function stagePowerW(load: LoadSettings, stage: number): number {
  return stage === 0 ? 0 : itemAt(load.stagesW, stage - 1);
}
