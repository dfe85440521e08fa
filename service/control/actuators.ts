/**
 * Does the actuator do what it was told? Told apart here, from its report and the load's meter:
 *
 * - *unconfirmed*: commanded on, but it says off or shows no power: stop, wait, try again; after
 *   `latchAfter` tries in a row it counts as dead and is latched.
 * - *welded*: commanded off after a run of ours, and it has never been seen off since. Behind an
 *   open contactor a welded contact draws nothing, so that what is seen then proves nothing.
 * - *by hand*: it was seen off, or never was ours, and is on now: switched at the device.
 *
 * An actuator without report and meter can't be checked; its commands count as done.
 */
import { hasHeld, heldSince } from "./blocks/held-since.ts";
import { hasDrawn } from "./draw-memory.ts";
import type { LoadMemory } from "./memory.ts";
import type { LoadObservation } from "./observation.ts";
import { stagePowerW } from "./stage-power.ts";
import type { LoadSettings } from "./settings.ts";

/** A meter that shows this share of the rated power says "on". common practice, no source */
const ON_POWER_FRACTION = 0.5;
/** …and less than this share of the smallest stage says "off". common practice, no source */
const OFF_POWER_FRACTION = 0.3;
/** Wait before trying again after a failed start, times the failures so far. [ms] */
const RETRY_MS = 120_000;
/** A run shorter than this proves nothing, however short the minimum run. Ours, no source. [ms] */
export const PROVEN_MS = 120_000;

export type ConfirmationMemory = Pick<
  LoadMemory,
  | "isConfirmed"
  | "contradictsSinceMs"
  | "agreesSinceMs"
  | "failedConfirmations"
  | "retryAtMs"
  | "isByHand"
  | "latch"
>;

/**
 * Confirmation after this tick's observation, before anything new is commanded; `load` itself if
 * nothing changes in it.
 */
export function confirm(
  load: LoadMemory,
  observation: LoadObservation,
  input: { readonly settings: LoadSettings; readonly nowMs: number; readonly isLive: boolean },
): ConfirmationMemory {
  const cleared: LoadMemory =
    observation.request === "clear"
      ? { ...load, latch: "none", failedConfirmations: 0, retryAtMs: null, wasOurs: false }
      : load;
  return cleared.stage > 0
    ? confirmOn(cleared, observation, input)
    : confirmOff(cleared, observation, input);
}

/** The device is seen off: it reports 0 or draws nothing, and nothing says otherwise. */
export function isSeenOff(observation: LoadObservation, settings: LoadSettings): boolean {
  if (settings.hasReport && reportedStage(observation) !== 0) return false;
  const power = meteredW(observation);
  if (power === null) return settings.hasReport || !settings.hasMeter;
  return power < OFF_POWER_FRACTION * stagePowerW(settings, 1);
}

function confirmOn(
  load: LoadMemory,
  observation: LoadObservation,
  input: { readonly settings: LoadSettings; readonly nowMs: number },
): ConfirmationMemory {
  const { settings, nowMs } = input;
  const contradicts = !isSeenOn(load, observation, settings);
  if (!contradicts && isUndisputed(load) && load.failedConfirmations === 0) return load;
  const contradiction = contradictionSince(load, contradicts, input);
  const hasFailed =
    contradicts && hasHeld(contradiction.contradictsSinceMs, settings.settleMs, nowMs);
  // A device that drops out soon after each start has failed each time.
  const provenMs = Math.max(settings.minRunMs, PROVEN_MS);
  const isProven = !contradicts && nowMs - load.changedAtMs >= provenMs;
  const failedConfirmations = isProven ? 0 : load.failedConfirmations + (hasFailed ? 1 : 0);
  const isDead = hasFailed && failedConfirmations >= settings.latchAfter;
  return {
    isConfirmed: !contradicts || (load.isConfirmed && !hasFailed),
    contradictsSinceMs: contradiction.contradictsSinceMs,
    agreesSinceMs: contradiction.agreesSinceMs,
    failedConfirmations,
    retryAtMs: hasFailed ? nowMs + RETRY_MS * failedConfirmations : load.retryAtMs,
    isByHand: false,
    latch: isDead ? "latched-dead" : load.latch,
  };
}

function confirmOff(
  load: LoadMemory,
  observation: LoadObservation,
  input: { readonly settings: LoadSettings; readonly nowMs: number; readonly isLive: boolean },
): ConfirmationMemory {
  const { settings, nowMs } = input;
  const isOn = saysOn(observation, settings);
  if (!isOn && isUndisputed(load)) return load;
  const contradiction = contradictionSince(load, isOn, input);
  const isSettled = hasHeld(contradiction.contradictsSinceMs, settings.settleMs, nowMs);
  const isByHandInput = observation.isByHand.quality === "fresh" && observation.isByHand.value;
  // Power or a report that comes back soon after a run of ours is an echo of that run.
  const isLongOff = nowMs - load.changedAtMs > 2 * settings.settleMs;
  const isByHand =
    isOn && (isByHandInput || load.isByHand || (isSettled && isLongOff && isNotOurs(load)));
  const isWelded = isOn && isSettled && !isByHand && !isNotOurs(load);
  return {
    isConfirmed:
      load.isConfirmed ||
      ((input.isLive || !settings.hasMeter) && isSeenOff(observation, settings)),
    contradictsSinceMs: contradiction.contradictsSinceMs,
    agreesSinceMs: contradiction.agreesSinceMs,
    failedConfirmations: load.failedConfirmations,
    retryAtMs: load.retryAtMs,
    isByHand,
    latch: isWelded ? "latched-welded" : load.latch,
  };
}

/** It has long been seen to do as it is told: one more such look changes nothing. */
function isUndisputed(load: LoadMemory): boolean {
  const { isConfirmed, contradictsSinceMs, agreesSinceMs, isByHand } = load;
  return isConfirmed && contradictsSinceMs === null && agreesSinceMs !== null && !isByHand;
}

/** A contradiction begins at once, and ends when there has been none for the settling time. */
function contradictionSince(
  load: LoadMemory,
  contradicts: boolean,
  { settings, nowMs }: { readonly settings: LoadSettings; readonly nowMs: number },
): Pick<LoadMemory, "contradictsSinceMs" | "agreesSinceMs"> {
  const agreesSinceMs = heldSince(load.agreesSinceMs, !contradicts, nowMs);
  const isOver = hasHeld(agreesSinceMs, settings.settleMs, nowMs);
  const isOpen = contradicts || (load.contradictsSinceMs !== null && !isOver);
  return {
    contradictsSinceMs: heldSince(load.contradictsSinceMs, isOpen, nowMs),
    agreesSinceMs,
  };
}

/** No run of ours can have left it on: it has been seen off since, or never ran for us. */
function isNotOurs(load: LoadMemory): boolean {
  return load.isConfirmed || !load.wasOurs;
}

function isSeenOn(load: LoadMemory, observation: LoadObservation, settings: LoadSettings): boolean {
  if (settings.hasReport) {
    const stage = reportedStage(observation);
    // A modulating device reports how far it is on, in whatever unit.
    return settings.modulating === null ? stage === load.stage : stage !== null && stage > 0;
  }
  // Live sockets with nothing plugged in draw nothing.
  if (!settings.hasMeter || settings.sockets !== null) return true;
  const power = meteredW(observation);
  // What has drawn power before and draws none now has a thermostat of its own: it is given up for
  // drawing nothing, not held for dead.
  return power !== null && (isPowerOn(load, power, settings) || hasDrawn(load.draw));
}

function isPowerOn(load: LoadMemory, powerW: number, settings: LoadSettings): boolean {
  return powerW >= ON_POWER_FRACTION * stagePowerW(settings, load.stage);
}

/** Its report or its meter says that it is on. */
export function saysOn(observation: LoadObservation, settings: LoadSettings): boolean {
  const stage = reportedStage(observation);
  if (stage !== null && stage > 0) return true;
  const power = meteredW(observation);
  return power !== null && power >= ON_POWER_FRACTION * stagePowerW(settings, 1);
}

function reportedStage(observation: LoadObservation): number | null {
  return observation.reportedStage.quality === "fresh" ? observation.reportedStage.value : null;
}

function meteredW(observation: LoadObservation): number | null {
  return observation.powerW.quality === "fresh" ? observation.powerW.value : null;
}
