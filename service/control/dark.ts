import { modelPowerW } from "../solar/array-model.ts";
import { itemAt } from "./item-at.ts";
import type { Observation } from "./observation.ts";
import type { ControlSettings } from "./settings.ts";

/**
 * Night over arrays alone, all of which say that they give nothing: none of it is hidden, and there
 * is nothing to learn. In doubt about one of them: false.
 */
export function isDark(observation: Observation, settings: ControlSettings): boolean {
  const { sources } = settings;
  for (let index = 0; index < sources.length; index += 1) {
    const source = itemAt(sources, index);
    const { quality, value } = itemAt(observation.sources, index).powerW;
    const isSilent = source.kind === "array" && quality === "fresh" && value <= 0;
    if (!isSilent || modelPowerW(source, settings, observation.wallMs) !== 0) return false;
  }
  return true;
}
