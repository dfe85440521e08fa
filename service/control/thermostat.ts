/**
 * Whether a load without a meter draws while it is on, or rests on a thermostat of its own.
 *
 * Its panel's meter shows it where everything else on that panel is off or has a meter. Else a
 * fall of the inverter's power by what the load draws says that it rests, a like rise that it draws
 * again. An appliance of its size looks the same. So one that was seen to come on may go without
 * meaning anything; a load that could be another one's twin is not told from it; and whatever was
 * mistaken ends with the load's next rise or stop, or after half a day.
 */
import { hasDrawn, THERMOSTAT_UNSEEN } from "./draw-memory.ts";
import type { DrawMemory, ThermostatMemory } from "./draw-memory.ts";
import { itemAt, numberAt } from "./item-at.ts";
import type { LoadMemory } from "./memory.ts";
import { settledAtMs, STEADY_FRACTION, STEP_MIN_W } from "./power-step.ts";
import type { DrawInput, InverterView } from "./power-step.ts";
import type { LoadSettings } from "./settings.ts";

/** A change may be the load's if it differs from its power by this share. Ours, no source. [1] */
const LIKE_FRACTION = 0.2;
/** …and by no more than its last steps do and this share of its power. Ours, no source. [1] */
const LIKE_BESIDE_FRACTION = 0.06;
/** Of its last steps so many may be of something else. */
const SPOILT_MAX = 2;
/** On its own panel it draws from this share of its power on. Ours, no source. [1] */
const ON_PANEL_FRACTION = 0.5;
/** A level that has moved by less, as a share of the load's power, is not written down anew. [1] */
const LEVEL_STEP_FRACTION = 0.02;
/** What came on so long ago is not waited for any more: its end may have been missed. [ms] */
const OTHER_WITHIN_MS = 1_800_000;
/** A rest that nothing has shown anew for so long is not believed any more. [ms] */
const RESTS_MAX_MS = 12 * 3_600_000;

/** After this tick, of a load that is on; `draw` with what its start has shown. */
export function thermostatAfter(
  load: LoadMemory,
  draw: DrawMemory,
  input: DrawInput,
): ThermostatMemory {
  const { thermostat } = draw;
  if (!isTellable(input.settings)) return thermostat;
  const onPanelW = ownOnPanelW(load, input);
  if (onPanelW !== null) {
    const isDrawing = onPanelW >= ON_PANEL_FRACTION * load.powerW;
    return seenAs(thermostat, isDrawing ? "draws" : "rests", { levelW: null, nowMs: input.nowMs });
  }
  return hasDrawn(draw) ? byInverter(load, thermostat, input) : THERMOSTAT_UNSEEN;
}

/**
 * What running loads may draw or not: nobody can tell.
 *
 * @returns [W] AC; 0: there is none of them.
 */
export function doubtfulW(loads: readonly LoadMemory[], settings: readonly LoadSettings[]): number {
  let totalW = 0;
  for (let index = 0; index < loads.length; index += 1) {
    const { stage, powerW, draw } = itemAt(loads, index);
    if (stage === 0 || draw.thermostat.drawing !== "unknown") continue;
    const ofLoad = itemAt(settings, index);
    const isSockets = ofLoad.sockets !== null && !ofLoad.hasMeter;
    if (isSockets || isTellable(ofLoad)) totalW += powerW;
  }
  return totalW;
}

/** Nobody can tell whether it draws, though it has been seen to: it may begin at any moment. */
export function mayRest({ draw }: LoadMemory, settings: LoadSettings): boolean {
  return draw.thermostat.drawing === "unknown" && isTellable(settings) && hasDrawn(draw);
}

/** A smaller load's step can't be told; and one that modulates follows what it is told. */
function isTellable({ hasMeter, modulating, sockets, stagesW }: LoadSettings): boolean {
  if (hasMeter || modulating !== null || sockets !== null) return false;
  return numberAt(stagesW, 0) >= STEP_MIN_W;
}

/** What its panel's meter shows beside the other loads there; null: that tells nothing of it. */
function ownOnPanelW(load: LoadMemory, { settings, inverter, nowMs }: DrawInput): number | null {
  const { panelIndex } = settings;
  if (panelIndex === null) return null;
  const { quality, value, ageMs } = itemAt(inverter.seen.panels, panelIndex).powerW;
  if (quality !== "fresh" || nowMs - ageMs < settledAtMs(load, settings)) return null;
  let ownW = value;
  for (let index = 0; index < inverter.loads.length; index += 1) {
    const other = itemAt(inverter.loads, index);
    const { hasMeter, panelIndex: ofOther } = itemAt(inverter.loadSettings, index);
    if (ofOther !== panelIndex || other.id === load.id) continue;
    if (!hasMeter && other.stage === 0 && !other.isByHand) continue;
    const meter = itemAt(inverter.seen.loads, index).powerW;
    if (!hasMeter || meter.quality !== "fresh") return null;
    ownW -= meter.value;
  }
  return ownW;
}

function byInverter(
  load: LoadMemory,
  thermostat: ThermostatMemory,
  { inverter, settings, nowMs }: DrawInput,
): ThermostatMemory {
  const { unmeteredW, lastUnmeteredW } = inverter;
  if (unmeteredW === null) return THERMOSTAT_UNSEEN;
  // A switching shows in the same power: the level before it is of no more use.
  if (inverter.hasSwitched) return atLevel(thermostat, null);
  if (!inverter.isNew || lastUnmeteredW === null) return thermostat;
  if (Math.abs(unmeteredW - lastUnmeteredW) > STEADY_FRACTION * load.powerW) return thermostat;
  if (isUnsettled(load, settings, inverter)) return thermostat;
  if (unmeteredW < (1 - LIKE_FRACTION) * load.powerW) {
    return seenAs(thermostat, "rests", { levelW: unmeteredW, nowMs });
  }
  const at = { levelW: unmeteredW, nowMs };
  return afterChange(load, isOutdated(thermostat, nowMs) ? THERMOSTAT_UNSEEN : thermostat, {
    inverter,
    at,
  });
}

interface Level {
  readonly levelW: number;
  readonly nowMs: number;
}

/** The power stands still at another level, or at the same. */
function afterChange(
  load: LoadMemory,
  thermostat: ThermostatMemory,
  { inverter, at }: { readonly inverter: InverterView; readonly at: Level },
): ThermostatMemory {
  if (thermostat.levelW === null) return atLevel(thermostat, at.levelW);
  const changeW = at.levelW - thermostat.levelW;
  const stepW = Math.abs(changeW);
  if (stepW <= LEVEL_STEP_FRACTION * load.powerW) return thermostat;
  if (!isLike(load, stepW)) return atLevel(thermostat, at.levelW);
  if (isOtherLike(load, changeW, inverter)) return atLevel(THERMOSTAT_UNSEEN, at.levelW);
  return changeW > 0 ? risen(thermostat, at) : fallen(thermostat, at);
}

/** A load that draws already can't begin to: something else of its size came on. */
function risen(thermostat: ThermostatMemory, { levelW, nowMs }: Level): ThermostatMemory {
  const { drawing } = thermostat;
  const isOther = drawing !== "rests";
  return {
    drawing: isOther ? drawing : "draws",
    restsSinceMs: null,
    levelW,
    otherAtMs: isOther ? nowMs : null,
  };
}

function fallen(thermostat: ThermostatMemory, at: Level): ThermostatMemory {
  const { drawing, restsSinceMs, otherAtMs } = thermostat;
  const isOther = otherAtMs !== null && at.nowMs - otherAtMs <= OTHER_WITHIN_MS;
  if (isOther) return { drawing, restsSinceMs, levelW: at.levelW, otherAtMs: null };
  return { drawing: "rests", restsSinceMs: restsSinceMs ?? at.nowMs, levelW: at.levelW, otherAtMs };
}

function atLevel(thermostat: ThermostatMemory, levelW: number | null): ThermostatMemory {
  if (levelW === thermostat.levelW) return thermostat;
  const { drawing, restsSinceMs, otherAtMs } = thermostat;
  return { drawing, restsSinceMs, levelW, otherAtMs };
}

/** Shown beyond doubt. */
function seenAs(
  thermostat: ThermostatMemory,
  drawing: "draws" | "rests",
  { levelW, nowMs }: { readonly levelW: number | null; readonly nowMs: number },
): ThermostatMemory {
  const isSame = drawing === thermostat.drawing && levelW === thermostat.levelW;
  if (isSame && !isOutdated(thermostat, nowMs)) return thermostat;
  return { drawing, restsSinceMs: drawing === "rests" ? nowMs : null, levelW, otherAtMs: null };
}

function isOutdated({ restsSinceMs }: ThermostatMemory, nowMs: number): boolean {
  return restsSinceMs !== null && nowMs - restsSinceMs > RESTS_MAX_MS;
}

function isUnsettled(load: LoadMemory, settings: LoadSettings, inverter: InverterView): boolean {
  const { measuredAtMs, lastStartMs, lastStopMs } = inverter;
  const lastMs = Math.max(lastStartMs, lastStopMs) + settings.settleMs;
  return measuredAtMs < Math.max(lastMs, settledAtMs(load, settings));
}

/** As high as what the load draws, as near as its last steps were to that. */
function isLike({ draw, powerW }: LoadMemory, stepW: number): boolean {
  const offW = Math.abs(stepW - powerW);
  if (offW > LIKE_FRACTION * powerW) return false;
  const steps = itemAt(draw.stepsW, draw.ofStage - 1);
  if (steps.length <= SPOILT_MAX) return true;
  const offsW = steps.map((ofStep) => Math.abs(ofStep - powerW)).sort((one, other) => one - other);
  const spreadW = numberAt(offsW, steps.length - 1 - SPOILT_MAX);
  return offW <= spreadW + LIKE_BESIDE_FRACTION * powerW;
}

/** Another running load without a meter may have made the same change. */
function isOtherLike(load: LoadMemory, changeW: number, inverter: InverterView): boolean {
  const after = changeW > 0 ? "draws" : "rests";
  for (let index = 0; index < inverter.loads.length; index += 1) {
    const other = itemAt(inverter.loads, index);
    if (other.id === load.id || other.stage === 0) continue;
    const canChange = isTellable(itemAt(inverter.loadSettings, index));
    if (!canChange || other.draw.thermostat.drawing === after) continue;
    if (isLike(other, Math.abs(changeW))) return true;
  }
  return false;
}
