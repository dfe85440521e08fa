/**
 * What a load really draws: learned from its own meter or, without one, from the step that its
 * start makes in the inverter's power. A nameplate says what it may draw, not what it does.
 *
 * A step proves something only while nothing else changes: no other load was switched, and the
 * inverter's power stood still just before the start and stands still now.
 *
 * The same look shows a load that is on and draws nothing. Its own thermostat is satisfied, or it
 * is unplugged or broken; either way it is given up for a while, so that others get its share.
 */
import { hasHeld, heldSince } from "./blocks/held-since.ts";
import type { Verdict } from "./decision.ts";
import { itemAt, numberAt } from "./item-at.ts";
import type { DrawMemory, LoadMemory, Memory } from "./memory.ts";
import type { LoadObservation, Observation } from "./observation.ts";
import type { ControlSettings, LoadSettings } from "./settings.ts";
import { learnedPowerW, stagePowerW } from "./stage-power.ts";
import { timedVerdict } from "./verdict.ts";

/** Readings outside these shares of the rated power are of something else. Ours, no source. */
const LEARN_MIN_FRACTION = 0.3;
const LEARN_MAX_FRACTION = 1.5;
/** A meter's readings are averaged over about this time. [ms] */
const METER_AVERAGE_MS = 300_000;
/** A step is seen once in a run: each one moves what is learned this far. */
const STEP_WEIGHT = 0.5;
/** A difference that is not worth learning, as a share of the rated power. */
const LEARN_STEP_FRACTION = 0.02;
/** The inverter's power stands still if it moves by less than this share of the rated power. */
const STEADY_FRACTION = 0.15;
/** A smaller load's step drowns in what the house does. Ours, no source. [W] */
const STEP_MIN_W = 200;
/** A load draws nothing for this long after it has settled before it is given up. [ms] */
const IDLE_MS = 60_000;
/** Wait after that, times the times in a row; the last is the longest. [ms] */
const IDLE_WAIT_MS = 1_800_000;
const IDLE_WAITS_MAX = 8;

/** The inverter's power, as far as it can show what a single load does. */
export interface InverterView {
  /** [W] AC; null: not known. */
  readonly powerW: number | null;
  /** At the tick before. [W] AC; null: not known. */
  readonly lastPowerW: number | null;
  readonly measuredAtMs: number;
  /** Last rise and last fall of any load's stage. */
  readonly lastStartMs: number;
  readonly lastStopMs: number;
  /** A load whose power is set between limits is on: its power moves by itself. */
  readonly isModulating: boolean;
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
  return {
    powerW: acPowerW(observation),
    lastPowerW: memory.acPowerW,
    measuredAtMs: observation.monotonicMs - observation.inverter.powerW.ageMs,
    lastStartMs: memory.lastStartMs,
    lastStopMs: memory.lastStopMs,
    isModulating: isSomeModulating(memory, settings),
  };
}

function isSomeModulating({ loads }: Memory, settings: ControlSettings): boolean {
  for (let index = 0; index < loads.length; index += 1) {
    const isOn = itemAt(loads, index).stage > 0;
    if (isOn && itemAt(settings.loads, index).modulating !== null) return true;
  }
  return false;
}

/** The inverter's AC power; null: not known. [W] */
export function acPowerW({ inverter }: Observation): number | null {
  return inverter.powerW.quality === "fresh" ? inverter.powerW.value : null;
}

/** What this tick's readings say about the load's power; the same memory if nothing new. */
export function learnPower(
  load: LoadMemory,
  observation: LoadObservation,
  input: DrawInput,
): DrawMemory {
  const { draw } = load;
  if (load.stage === 0) return beforeStart(load, observation, input);
  const { settings, nowMs } = input;
  if (!settings.hasMeter && draw.powerBeforeW === null) return draw;
  const seenW = drawSeenW(load, observation, input);
  const isDrawing = seenW !== null && seenW >= drawMinW(load, settings);
  const isIdle = seenW !== null && !isDrawing && isExpectedToDraw(load, settings);
  const idleSinceMs = heldSince(draw.idleSinceMs, isIdle, nowMs);
  const isGivenUp = hasHeld(idleSinceMs, IDLE_MS, nowMs);
  return {
    learnedW: isDrawing ? learnedFrom(seenW, load, input) : draw.learnedW,
    powerBeforeW: isDrawing || !isAlone(load, input) ? null : draw.powerBeforeW,
    idleSinceMs,
    idleTimes: isDrawing ? 0 : draw.idleTimes + (isGivenUp ? 1 : 0),
  };
}

function beforeStart(load: LoadMemory, observation: LoadObservation, input: DrawInput): DrawMemory {
  const { draw } = load;
  const powerBeforeW = powerBefore(load, input);
  const idleTimes = observation.request === "clear" ? 0 : draw.idleTimes;
  const isSame =
    powerBeforeW === draw.powerBeforeW && idleTimes === draw.idleTimes && draw.idleSinceMs === null;
  return isSame ? draw : { learnedW: draw.learnedW, powerBeforeW, idleSinceMs: null, idleTimes };
}

/** Why a running load is given up for drawing nothing; null: it draws, or has time yet. */
export function idleStop(load: LoadMemory, settings: LoadSettings, nowMs: number): Verdict | null {
  if (!hasHeld(load.draw.idleSinceMs, IDLE_MS, nowMs)) return null;
  return timedVerdict(idleCode(load, settings), 0, idleWaitMs(load));
}

/** How long a load that drew nothing is still left alone; null: not at all. */
export function idleWait(load: LoadMemory, settings: LoadSettings, nowMs: number): Verdict | null {
  const remainingMs = load.stoppedAtMs + idleWaitMs(load) - nowMs;
  if (load.draw.idleTimes === 0 || remainingMs <= 0) return null;
  return timedVerdict(idleCode(load, settings), 0, remainingMs);
}

function idleWaitMs({ draw }: LoadMemory): number {
  return IDLE_WAIT_MS * Math.min(draw.idleTimes, IDLE_WAITS_MAX);
}

/** A load that has drawn power, or has a tank, is likely to have a thermostat of its own. */
function idleCode(load: LoadMemory, { tank }: LoadSettings): "idle-thermostat" | "idle-no-power" {
  return hasDrawn(load) || tank !== null ? "idle-thermostat" : "idle-no-power";
}

/** It has been seen to draw what one of its stages draws. */
export function hasDrawn({ draw }: LoadMemory): boolean {
  return draw.learnedW.some((powerW) => powerW !== null);
}

/**
 * Something may always be plugged into sockets later on; and the inverter's power says nothing of a
 * load that it has never shown: that one may be fed by something else.
 */
function isExpectedToDraw({ stage, draw }: LoadMemory, settings: LoadSettings): boolean {
  if (settings.sockets !== null) return false;
  return settings.hasMeter || learnedPowerW(draw, stage) !== null;
}

function drawMinW(load: LoadMemory, settings: LoadSettings): number {
  return LEARN_MIN_FRACTION * stagePowerW(settings, load.stage);
}

/** Not learned, or so near the rating that the load can have drawn it. */
export function isLearnable(powerW: number | null, ratedW: number): boolean {
  if (powerW === null) return true;
  return powerW >= LEARN_MIN_FRACTION * ratedW && powerW <= LEARN_MAX_FRACTION * ratedW;
}

/** What the load is seen to draw since it settled. [W] AC; null: it can't be told. */
function drawSeenW(load: LoadMemory, { powerW }: LoadObservation, input: DrawInput): number | null {
  const { settings, nowMs } = input;
  if (!load.isConfirmed) return null;
  const settledAtMs = load.changedAtMs + settings.settleMs + settings.startPowerMs;
  if (settings.hasMeter) {
    return powerW.quality === "fresh" && nowMs - powerW.ageMs >= settledAtMs ? powerW.value : null;
  }
  if (load.draw.powerBeforeW === null || !isAlone(load, input)) return null;
  const presentW = steadyW(load.stage, input);
  if (presentW === null || input.inverter.measuredAtMs < settledAtMs) return null;
  return presentW - load.draw.powerBeforeW;
}

/** Nothing but this start has been switched since its own settling time before it. */
function isAlone({ startedAtMs, changedAtMs }: LoadMemory, input: DrawInput): boolean {
  const { lastStartMs, lastStopMs, isModulating } = input.inverter;
  return (
    !isModulating &&
    startedAtMs === changedAtMs &&
    lastStartMs === changedAtMs &&
    lastStopMs + input.settings.settleMs <= changedAtMs
  );
}

/** Kept up to date while the load is off, so that it stands still from the start on. */
function powerBefore(load: LoadMemory, input: DrawInput): number | null {
  const { hasMeter, modulating, sockets, stagesW } = input.settings;
  if (hasMeter || modulating !== null || sockets !== null || load.isByHand) return null;
  return numberAt(stagesW, 0) < STEP_MIN_W ? null : steadyW(1, input);
}

/** The inverter's power, if it stands still beside the stage's. [W] AC */
function steadyW(stage: number, { settings, inverter }: DrawInput): number | null {
  const { powerW, lastPowerW } = inverter;
  if (powerW === null || lastPowerW === null) return null;
  const isSteady = Math.abs(powerW - lastPowerW) <= STEADY_FRACTION * stagePowerW(settings, stage);
  return isSteady ? powerW : null;
}

/** The same list while nothing worth it is learned. */
function learnedFrom(
  seenW: number,
  load: LoadMemory,
  { settings, dtMs }: DrawInput,
): readonly (number | null)[] {
  const { modulating, sockets, hasMeter } = settings;
  if (modulating !== null || sockets !== null) return load.draw.learnedW;
  const ratedW = stagePowerW(settings, load.stage);
  if (seenW > LEARN_MAX_FRACTION * ratedW) return load.draw.learnedW;
  const place = load.stage - 1;
  const knownW = learnedPowerW(load.draw, load.stage);
  if (knownW !== null && Math.abs(seenW - knownW) < LEARN_STEP_FRACTION * ratedW) {
    return load.draw.learnedW;
  }
  const weight = hasMeter ? Math.min(1, dtMs / METER_AVERAGE_MS) : STEP_WEIGHT;
  const nextW = knownW === null ? seenW : knownW + weight * (seenW - knownW);
  return load.draw.learnedW.map((powerW, index) => (index === place ? nextW : powerW));
}
