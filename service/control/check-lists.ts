import { invariant } from "./invariant.ts";
import type { Memory } from "./memory.ts";
import type { Observation } from "./observation.ts";
import type { ControlSettings } from "./settings.ts";

/** @throws InvariantError if memory or observation have not got what the settings list. */
export function checkLists(
  memory: Memory,
  observation: Observation,
  settings: ControlSettings,
): void {
  invariant(memory.loads.length === settings.loads.length, "memory must have every load");
  invariant(memory.panels.length === settings.panels.length, "memory must have every panel");
  invariant(observation.loads.length === settings.loads.length, "every load must be observed");
  invariant(observation.panels.length === settings.panels.length, "every panel must be observed");
  invariant(observation.sources.length === settings.sources.length, "every source is observed");
  const { legs } = settings.inverter;
  invariant(observation.inverter.legPowersW.length === legs.length, "every leg is observed");
}
