import type { BandView } from "./band-marks.ts";
import { itemAt } from "./item-at.ts";
import type { SiteVerdict, Verdict } from "./decision.ts";
import type { LoadMemory, PanelMemory } from "./memory.ts";
import type { LoadObservation, Observation } from "./observation.ts";
import type { InverterRatings } from "./ratings.ts";
import type { ControlSettings, LoadSettings } from "./settings.ts";

export interface ScheduleInput {
  readonly settings: ControlSettings;
  readonly observation: Observation;
  readonly site: SiteVerdict;
  readonly view: BandView;
  readonly ratings: InverterRatings;
  /** With this tick's timers, demand and confirmation. */
  readonly loads: readonly LoadMemory[];
  readonly panels: readonly PanelMemory[];
  /** Why a load must be off whatever is decided: who is held by an interlock takes no part. */
  readonly held: readonly (Verdict | null)[];
  readonly lastStartMs: number;
  readonly lastStopMs: number;
  readonly generatorAtMs: number | null;
}

/**
 * What is to be remembered of a load's turn beside its stage:
 * - `try`: it starts, or steps up, on what the band lends;
 * - `failed-try`: the try showed that the power was not there;
 * - `backed-off`: a modulating load went too far and gives back.
 */
export type TurnNote = "none" | "try" | "failed-try" | "backed-off";

export interface Schedule {
  readonly stages: number[];
  /** AC power allotted to each load. [W] */
  readonly powersW: number[];
  readonly verdicts: Verdict[];
  readonly notes: TurnNote[];
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

export function turnOf(index: number, { loads, settings, observation }: ScheduleInput): LoadTurn {
  return {
    index,
    memory: itemAt(loads, index),
    settings: itemAt(settings.loads, index),
    observation: itemAt(observation.loads, index),
  };
}
