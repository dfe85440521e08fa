import { itemAt } from "../item-at.ts";
import type { Observation } from "../observation.ts";
import type { ControlSettings } from "../settings.ts";

/** What some array gives is not known now. */
export function isArrayUnseen(observation: Observation, { sources }: ControlSettings): boolean {
  return sources.some(
    ({ kind }, index) =>
      kind === "array" && itemAt(observation.sources, index).powerW.quality !== "fresh",
  );
}
