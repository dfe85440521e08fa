/**
 * What one start or stop shows in the inverter's power.
 *
 * A step says something only while nothing else of ours is switched, and where the inverter's power
 * stood still just before and stands still now. That does not keep the household's own steps out:
 * see `likely-power.ts`.
 */
import { itemAt } from "./item-at.ts";
import type { LoadMemory, Memory } from "./memory.ts";
import type { Observation } from "./observation.ts";
import type { ControlSettings, LoadSettings } from "./settings.ts";
import { stagePowerW } from "./stage-power.ts";

/** What is seen later than this after a load has settled may be anything. Ours, no source. [ms] */
const STEP_WITHIN_MS = 180_000;
/** The inverter's power stands still if it moves by less than this share of the rated power. */
export const STEADY_FRACTION = 0.15;
/** A smaller load's step drowns in what the house does. Ours, no source. [W] */
export const STEP_MIN_W = 200;

/** The inverter's power, as far as it can show what a single load does. */
export interface InverterView {
  /** [W] AC; null: not known. */
  readonly powerW: number | null;
  /** At the tick before. [W] AC; null: not known. */
  readonly lastPowerW: number | null;
  /** What it moved by up to then, since the tick before that. [W] AC; null: not known. */
  readonly lastMoveW: number | null;
  readonly measuredAtMs: number;
  /** The reading came after the tick before. */
  readonly isNew: boolean;
  /** What it gives to all that has no meter, while such a load runs. [W] AC; null: not known. */
  readonly unmeteredW: number | null;
  /** …at the reading before. [W] AC; null: not known. */
  readonly lastUnmeteredW: number | null;
  /** A load was switched at the tick before. */
  readonly hasSwitched: boolean;
  /** Last rise and last fall of any load's stage. */
  readonly lastStartMs: number;
  readonly lastStopMs: number;
  /** All loads, as they were after the tick before. */
  readonly loads: readonly LoadMemory[];
  readonly loadSettings: readonly LoadSettings[];
  readonly seen: Pick<Observation, "loads" | "panels">;
}

export interface DrawInput {
  readonly settings: LoadSettings;
  readonly nowMs: number;
  readonly dtMs: number;
  readonly inverter: InverterView;
}

export function inverterView(
  memory: Memory,
  observation: Observation,
  settings: ControlSettings,
): InverterView {
  const { lastTickMs, lastStartMs, lastStopMs } = memory;
  const measuredAtMs = observation.monotonicMs - observation.inverter.powerW.ageMs;
  const isNew = lastTickMs === null || measuredAtMs > lastTickMs;
  const powerW = acPowerW(observation);
  return {
    powerW,
    lastPowerW: memory.acPowerW,
    lastMoveW: memory.acMoveW,
    measuredAtMs,
    isNew,
    unmeteredW:
      isNew || powerW === null ? unmeteredPowerW(memory, observation, settings) : memory.unmeteredW,
    lastUnmeteredW: memory.unmeteredW,
    hasSwitched: lastStartMs === lastTickMs || lastStopMs === lastTickMs,
    lastStartMs: memory.lastStartMs,
    lastStopMs: memory.lastStopMs,
    loads: memory.loads,
    loadSettings: settings.loads,
    seen: observation,
  };
}

/** Without what the loads' own meters show; looked at only while a load without one runs. */
function unmeteredPowerW(
  { loads }: Memory,
  observation: Observation,
  settings: ControlSettings,
): number | null {
  const powerW = acPowerW(observation);
  if (powerW === null) return null;
  let meteredW = 0;
  let isAnyUnmetered = false;
  for (let index = 0; index < loads.length; index += 1) {
    const { stage } = itemAt(loads, index);
    const { hasMeter, modulating } = itemAt(settings.loads, index);
    if (hasMeter) {
      const { quality, value } = itemAt(observation.loads, index).powerW;
      if (quality === "fresh") meteredW += value;
      else if (stage > 0) return null;
    } else if (stage > 0) {
      // It moves by itself.
      if (modulating !== null) return null;
      isAnyUnmetered = true;
    }
  }
  return isAnyUnmetered ? powerW - meteredW : null;
}

/** The inverter's AC power; null: not known. [W] */
export function acPowerW({ inverter }: Observation): number | null {
  return inverter.powerW.quality === "fresh" ? inverter.powerW.value : null;
}

/** What it moved by since the tick before. [W] AC; null: not known. */
export function acMoveW(before: Memory, observation: Observation): number | null {
  const powerW = acPowerW(observation);
  return powerW === null || before.acPowerW === null ? null : powerW - before.acPowerW;
}

/** This is the first tick after the one at which it was switched. */
export function isJustSwitched({ changedAtMs }: LoadMemory, { nowMs, dtMs }: DrawInput): boolean {
  return changedAtMs + dtMs === nowMs;
}

/** From when on a switching shows in full. [ms] */
export function settledAtMs({ stage, changedAtMs }: LoadMemory, settings: LoadSettings): number {
  return changedAtMs + settings.settleMs + (stage === 0 ? 0 : settings.startPowerMs);
}

export function isLate(load: LoadMemory, { settings, nowMs }: DrawInput): boolean {
  return nowMs > settledAtMs(load, settings) + STEP_WITHIN_MS;
}

/** What the start has added, or the stop taken away. [W] AC; null: it can't be told yet. */
export function stepSeenW(load: LoadMemory, { settings, inverter }: DrawInput): number | null {
  const { powerW, lastPowerW } = inverter;
  const { ofStage, powerBeforeW } = load.draw;
  if (!load.isConfirmed || powerBeforeW === null) return null;
  if (powerW === null || lastPowerW === null) return null;
  if (inverter.measuredAtMs < settledAtMs(load, settings)) return null;
  if (!isSteady(powerW - lastPowerW, stagePowerW(settings, ofStage))) return null;
  return load.stage === 0 ? powerBeforeW - powerW : powerW - powerBeforeW;
}

/** The inverter's power stands still, beside what a stage draws. */
function isSteady(moveW: number, ratedW: number): boolean {
  return Math.abs(moveW) <= STEADY_FRACTION * ratedW;
}

/** Nothing but this start or stop has been switched since its own settling time before it. */
export function isAlone(load: LoadMemory, { settings, inverter }: DrawInput): boolean {
  const { stage, startedAtMs, changedAtMs } = load;
  if (stage > 0 && startedAtMs !== changedAtMs) return false;
  const { lastStartMs, lastStopMs } = inverter;
  const lastMs = stage > 0 ? lastStartMs : lastStopMs;
  const otherMs = stage > 0 ? lastStopMs : lastStartMs;
  if (lastMs !== changedAtMs || otherMs + settings.settleMs > changedAtMs) return false;
  return isOnlyOne(changedAtMs, inverter);
}

/** Many may be shed in one tick; and a modulating load that is on moves by itself. */
function isOnlyOne(changedAtMs: number, { loads, loadSettings }: InverterView): boolean {
  let switched = 0;
  for (let index = 0; index < loads.length; index += 1) {
    const load = itemAt(loads, index);
    if (load.changedAtMs === changedAtMs) switched += 1;
    if (load.stage > 0 && itemAt(loadSettings, index).modulating !== null) return false;
  }
  return switched === 1;
}

/** The inverter's power without what was switched just now. [W] AC; null: of no use. */
export function powerBefore(load: LoadMemory, ofStage: number, input: DrawInput): number | null {
  const { modulating, sockets } = input.settings;
  if (modulating !== null || sockets !== null || load.isByHand || ofStage === 0) return null;
  if (stagePowerW(input.settings, 1) < STEP_MIN_W || !isAlone(load, input)) return null;
  const { lastPowerW, lastMoveW } = input.inverter;
  if (lastMoveW === null || !isSteady(lastMoveW, stagePowerW(input.settings, ofStage))) return null;
  return lastPowerW;
}
