import type { Decision } from "./decision.ts";
import type { Memory } from "./memory.ts";
import type { Observation } from "./observation.ts";
import type { ControlSettings } from "./settings.ts";

export interface StepResult {
  readonly memory: Memory;
  readonly decision: Decision;
}

export type Step = (
  memory: Memory,
  observation: Observation,
  settings: ControlSettings,
) => StepResult;
