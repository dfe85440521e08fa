import type { BandView } from "./band-marks.ts";
import type { SiteVerdict, Verdict } from "./decision.ts";
import type { LoadMemory, PanelMemory } from "./memory.ts";
import type { LoadObservation, Observation } from "./observation.ts";
import type { ControlSettings, LoadSettings } from "./settings.ts";

export interface ScheduleInput {
  readonly settings: ControlSettings;
  readonly observation: Observation;
  readonly site: SiteVerdict;
  readonly view: BandView;
  /** With this tick's timers, demand and confirmation. */
  readonly loads: readonly LoadMemory[];
  readonly panels: readonly PanelMemory[];
  readonly lastStartMs: number;
  readonly lastStopMs: number;
  readonly generatorAtMs: number | null;
}

export interface Schedule {
  readonly stages: number[];
  readonly verdicts: Verdict[];
  /** Panels that a load wants closed so that it can start. */
  readonly wantsPanel: boolean[];
}

/** One load with everything that its decision needs. */
export interface LoadTurn {
  readonly index: number;
  readonly memory: LoadMemory;
  readonly settings: LoadSettings;
  readonly observation: LoadObservation;
}
