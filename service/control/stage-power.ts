import { invariant } from "./invariant.ts";
import type { DrawMemory } from "./draw-memory.ts";
import type { LoadMemory } from "./memory.ts";
import type { LoadSettings } from "./settings.ts";

/** Rated AC power of a stage; 0 = off; of a modulating load the least that it runs at. [W] */
export function stagePowerW(load: LoadSettings, stage: number): number {
  if (stage === 0) return 0;
  // Not by `numberAt`: this is asked more often than all else, of one kind of list.
  const powerW = load.stagesW[stage - 1];
  invariant(powerW !== undefined, "the load must have this stage");
  return powerW;
}

/** The most that the load draws, whoever switches it. [W] AC */
export function largestPowerW(load: LoadSettings): number {
  return load.sockets?.maximumW ?? load.modulating?.maxW ?? stagePowerW(load, load.stagesW.length);
}

interface Watched {
  readonly settings: LoadSettings;
  readonly memory: Pick<LoadMemory, "draw">;
}

/** What was learned of a stage; null: nothing yet. [W] AC */
export function learnedPowerW({ learnedW }: DrawMemory, stage: number): number | null {
  const powerW = learnedW[stage - 1];
  invariant(powerW !== undefined, "each stage must have a place for what is learned of it");
  return powerW;
}

/** What a stage is allotted when it is commanded: what was learned of it, else rated. [W] AC */
export function allotmentW({ settings, memory }: Watched, stage: number): number {
  if (stage === 0) return 0;
  const { sockets, hasMeter } = settings;
  if (sockets !== null && !hasMeter) return sockets.maximumW;
  return learnedPowerW(memory.draw, stage) ?? stagePowerW(settings, stage);
}

/** The most that a stage may draw, for which inverter and feeder must have room. [W] AC */
export function limitW(load: Watched, stage: number): number {
  if (load.settings.sockets !== null) return load.settings.sockets.maximumW;
  return Math.max(allotmentW(load, stage), stagePowerW(load.settings, stage));
}
