/**
 * What a load really draws: learned from its own meter or, without one, from the steps that its
 * starts and stops make in the inverter's power. A nameplate says what it may draw, not what it
 * does.
 *
 * The same look shows a load that is on and draws nothing. Its own thermostat is satisfied, or it
 * is unplugged or broken; either way it is given up for a while, so that others get its share.
 */
import { hasHeld, heldSince } from "./blocks/held-since.ts";
import type { Verdict } from "./decision.ts";
import { itemAt, withNumberOrNull } from "./item-at.ts";
import { likelyPowerW, withStep } from "./likely-power.ts";
import { hasDrawn, THERMOSTAT_UNSEEN } from "./draw-memory.ts";
import type { DrawMemory, ThermostatMemory } from "./draw-memory.ts";
import type { LoadMemory } from "./memory.ts";
import type { LoadObservation } from "./observation.ts";
import {
  isAlone,
  isJustSwitched,
  isLate,
  powerBefore,
  settledAtMs,
  stepSeenW,
} from "./power-step.ts";
import type { DrawInput } from "./power-step.ts";
import type { LoadSettings } from "./settings.ts";
import { thermostatAfter } from "./thermostat.ts";
import { learnedPowerW, stagePowerW } from "./stage-power.ts";
import { timedVerdict } from "./verdict.ts";

/** Readings outside these shares of the rated power are of something else. Ours, no source. */
const LEARN_MIN_FRACTION = 0.3;
const LEARN_MAX_FRACTION = 1.5;
/** A meter's readings are averaged over about this time. [ms] */
const METER_AVERAGE_MS = 300_000;
/** A difference that is not worth learning, as a share of the rated power. */
const LEARN_STEP_FRACTION = 0.02;
/** A load draws nothing for this long after it has settled before it is given up. [ms] */
const IDLE_MS = 60_000;
/** Wait after that, times the times in a row; the last is the longest. [ms] */
const IDLE_WAIT_MS = 1_800_000;
const IDLE_WAITS_MAX = 8;

type Learned = Pick<DrawMemory, "learnedW" | "stepsW">;

/** What this tick's readings say about the load's power; the same memory if nothing new. */
export function learnPower(
  load: LoadMemory,
  observation: LoadObservation,
  input: DrawInput,
): DrawMemory {
  const { draw } = load;
  if (input.settings.hasMeter) return learnByMeter(load, observation, input);
  if (isJustSwitched(load, input)) return beginStep(load, observation, input);
  if (load.stage === 0) {
    return draw.powerBeforeW === null ? atRest(load, observation) : afterStop(load, input);
  }
  const seen = draw.powerBeforeW === null ? draw : afterStart(load, input);
  return withThermostat(seen, thermostatAfter(load, seen, input));
}

function withThermostat(draw: DrawMemory, thermostat: ThermostatMemory): DrawMemory {
  if (thermostat === draw.thermostat) return draw;
  return {
    learnedW: draw.learnedW,
    stepsW: draw.stepsW,
    ofStage: draw.ofStage,
    powerBeforeW: draw.powerBeforeW,
    idleSinceMs: draw.idleSinceMs,
    idleTimes: draw.idleTimes,
    thermostat,
  };
}

function learnByMeter(
  load: LoadMemory,
  observation: LoadObservation,
  input: DrawInput,
): DrawMemory {
  if (load.stage === 0) return atRest(load, observation);
  const { settings, nowMs } = input;
  const { quality, value, ageMs } = observation.powerW;
  const isSettled = quality === "fresh" && nowMs - ageMs >= settledAtMs(load, settings);
  return looked(load, { seenW: load.isConfirmed && isSettled ? value : null, isOver: true }, input);
}

/** Off, with nothing to wait for: only what a person clears is new. */
function atRest({ draw }: LoadMemory, { request }: LoadObservation): DrawMemory {
  const idleTimes = request === "clear" ? 0 : draw.idleTimes;
  if (idleTimes === draw.idleTimes && draw.idleSinceMs === null) return draw;
  return {
    learnedW: draw.learnedW,
    stepsW: draw.stepsW,
    ofStage: draw.ofStage,
    powerBeforeW: draw.powerBeforeW,
    idleSinceMs: null,
    idleTimes,
    thermostat: draw.thermostat,
  };
}

/** The inverter's power of the tick before is that without the switching. */
function beginStep(load: LoadMemory, observation: LoadObservation, input: DrawInput): DrawMemory {
  const { draw, stage } = load;
  const ofStage = stage > 0 ? stage : draw.ofStage;
  return {
    learnedW: draw.learnedW,
    stepsW: draw.stepsW,
    ofStage,
    powerBeforeW: powerBefore(load, ofStage, input),
    idleSinceMs: null,
    idleTimes: observation.request === "clear" ? 0 : draw.idleTimes,
    thermostat: thermostatSwitched(load),
  };
}

function afterStart(load: LoadMemory, input: DrawInput): DrawMemory {
  if (!isAlone(load, input)) return looked(load, { seenW: null, isOver: true }, input);
  const seenW = stepSeenW(load, input);
  if (seenW === null && load.draw.idleSinceMs === null) return load.draw;
  // No load feeds the house: something else was switched off meanwhile.
  const isOther = seenW !== null && seenW <= -drawMinW(load, input.settings);
  return looked(load, { seenW: isOther ? null : seenW, isOver: isOther }, input);
}

/** A running load, and what it is seen to draw. [W] AC; null: it can't be told. */
function looked(
  load: LoadMemory,
  { seenW, isOver }: { readonly seenW: number | null; readonly isOver: boolean },
  input: DrawInput,
): DrawMemory {
  const { draw } = load;
  const { settings, nowMs } = input;
  const isDrawing = seenW !== null && seenW >= drawMinW(load, settings);
  const isIdle = seenW !== null && !isDrawing && isExpectedToDraw(load, settings);
  const idleSinceMs = heldSince(draw.idleSinceMs, isIdle, nowMs);
  const isGivenUp = hasHeld(idleSinceMs, IDLE_MS, nowMs);
  const learned = isDrawing ? learn(load, seenW, input) : draw;
  return {
    learnedW: learned.learnedW,
    stepsW: learned.stepsW,
    ofStage: draw.ofStage,
    powerBeforeW: isDrawing || isOver ? null : draw.powerBeforeW,
    idleSinceMs,
    idleTimes: isDrawing ? 0 : draw.idleTimes + (isGivenUp ? 1 : 0),
    thermostat: isDrawing || isIdle ? thermostatAt(load, isDrawing, input) : draw.thermostat,
  };
}

/** A stage more or less in a run changes nothing about what it waits for. */
function thermostatSwitched({ draw, stage, startedAtMs, changedAtMs }: LoadMemory) {
  if (stage === 0 || startedAtMs === changedAtMs) return THERMOSTAT_UNSEEN;
  const { drawing, restsSinceMs } = draw.thermostat;
  return { drawing, restsSinceMs, levelW: null, otherAtMs: null };
}

/** What a start has shown; a meter's own load needs no such memory. */
function thermostatAt(
  { draw }: LoadMemory,
  isDrawing: boolean,
  { settings, nowMs }: DrawInput,
): ThermostatMemory {
  const { drawing, restsSinceMs, levelW } = draw.thermostat;
  if (settings.hasMeter || drawing === (isDrawing ? "draws" : "rests")) return draw.thermostat;
  return isDrawing
    ? { drawing: "draws", restsSinceMs: null, levelW, otherAtMs: null }
    : { drawing: "rests", restsSinceMs: restsSinceMs ?? nowMs, levelW, otherAtMs: null };
}

/** One look at what has fallen away: where that is not the load's, there is no second. */
function afterStop(load: LoadMemory, input: DrawInput): DrawMemory {
  const { draw } = load;
  const isOver = !isAlone(load, input) || isLate(load, input);
  const seenW = isOver ? null : stepSeenW(load, input);
  if (seenW === null && !isOver) return draw;
  const isOfLoad = seenW !== null && seenW >= drawMinW(load, input.settings);
  const learned = isOfLoad ? learn(load, seenW, input) : draw;
  return {
    learnedW: learned.learnedW,
    stepsW: learned.stepsW,
    ofStage: draw.ofStage,
    powerBeforeW: null,
    idleSinceMs: null,
    idleTimes: draw.idleTimes,
    thermostat: draw.thermostat,
  };
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
  return hasDrawn(load.draw) || tank !== null ? "idle-thermostat" : "idle-no-power";
}

/**
 * Something may always be plugged into sockets later on; and the inverter's power says nothing of a
 * load that it has never shown: that one may be fed by something else.
 */
function isExpectedToDraw({ stage, draw }: LoadMemory, settings: LoadSettings): boolean {
  if (settings.sockets !== null) return false;
  return settings.hasMeter || learnedPowerW(draw, stage) !== null;
}

function drawMinW({ stage, draw }: LoadMemory, settings: LoadSettings): number {
  return LEARN_MIN_FRACTION * stagePowerW(settings, stage === 0 ? draw.ofStage : stage);
}

/** Not learned, or so near the rating that the load can have drawn it. */
export function isLearnable(powerW: number | null, ratedW: number): boolean {
  if (powerW === null) return true;
  return powerW >= LEARN_MIN_FRACTION * ratedW && powerW <= LEARN_MAX_FRACTION * ratedW;
}

/** `draw` itself while nothing worth it is learned. */
function learn(load: LoadMemory, seenW: number, input: DrawInput): Learned {
  const { draw } = load;
  const { settings } = input;
  if (settings.modulating !== null || settings.sockets !== null) return draw;
  return settings.hasMeter ? fromMeter(load, seenW, input) : fromStep(load, seenW, input);
}

function fromMeter({ draw, stage }: LoadMemory, seenW: number, input: DrawInput): Learned {
  const { settings, dtMs } = input;
  const ratedW = stagePowerW(settings, stage);
  const knownW = learnedPowerW(draw, stage);
  if (seenW > LEARN_MAX_FRACTION * ratedW || isSame(knownW, seenW, ratedW)) return draw;
  const weight = Math.min(1, dtMs / METER_AVERAGE_MS);
  const nextW = knownW === null ? seenW : knownW + weight * (seenW - knownW);
  return { learnedW: withPower(draw, stage, nextW), stepsW: draw.stepsW };
}

function fromStep(load: LoadMemory, seenW: number, input: DrawInput): Learned {
  const { draw } = load;
  const { ofStage } = draw;
  const ratedW = stagePowerW(input.settings, ofStage);
  if (seenW > LEARN_MAX_FRACTION * ratedW || isLate(load, input)) return draw;
  const ofOne = withStep(itemAt(draw.stepsW, ofStage - 1), seenW);
  const stepsW = draw.stepsW.map((others, index) => (index === ofStage - 1 ? ofOne : others));
  const nextW = likelyPowerW(ofOne, ratedW);
  const isKnown = isSame(learnedPowerW(draw, ofStage), nextW, ratedW);
  return { learnedW: isKnown ? draw.learnedW : withPower(draw, ofStage, nextW), stepsW };
}

function isSame(knownW: number | null, powerW: number, ratedW: number): boolean {
  return knownW !== null && Math.abs(powerW - knownW) < LEARN_STEP_FRACTION * ratedW;
}

function withPower({ learnedW }: DrawMemory, stage: number, powerW: number): Learned["learnedW"] {
  return withNumberOrNull(learnedW, stage - 1, powerW);
}
