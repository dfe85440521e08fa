import { hasHeld, heldRemainingMs } from "./blocks/held-since.ts";
import { windowRemainingMs } from "./blocks/rolling-count.ts";
import { STARTS_WINDOW_MS } from "./load-timers.ts";
import { isAboveStart, stopMarkFraction, waitingForMark } from "./band-marks.ts";
import { demandGap } from "./demand.ts";
import type { Verdict } from "./decision.ts";
import { itemAt } from "./item-at.ts";
import { stagePowerW } from "./stage-power.ts";
import type { LoadTurn, Schedule, ScheduleInput } from "./schedule-turn.ts";
import { isPanelLive } from "./panels.ts";
import { verdictOf } from "./verdict.ts";

const MS_PER_HOUR = 3_600_000;
/** The band must carry a try for at least this long, however short the minimum run. [ms] */
const TRY_MS = 300_000;
/** What a generator has put into the battery starts nothing for this long after it stopped. [ms] */
const AFTER_GENERATOR_MS = 600_000;

/**
 * Goes through the waiting loads, and the staged ones that could go higher, in the serving order:
 * the first that passes every test is switched; one per stagger time.
 */
export function startWaiting(
  order: readonly LoadTurn[],
  input: ScheduleInput,
  result: Schedule,
): void {
  const nowMs = input.observation.monotonicMs;
  // Until a load has settled, what it takes may not show yet and would be given twice.
  const settlingMs = order.map(({ memory, settings }) =>
    memory.stage > 0 ? settings.settleMs - (nowMs - memory.changedAtMs) : 0,
  );
  const staggerLeftMs = Math.max(
    input.settings.staggerMs - (nowMs - input.lastStartMs),
    isCurrentOld(input) ? input.settings.tickMs : 0,
    ...settlingMs,
  );
  let hasSwitched = false;
  for (const turn of order) {
    const isRunning = turn.memory.stage > 0;
    if (isRunning && !mayStepUp(turn, input, result)) continue;
    const outcome = stageToStart(turn, input, { result, staggerLeftMs });
    if (typeof outcome !== "number") {
      if (isRunning) continue;
      result.verdicts[turn.index] = outcome;
      const { panelIndex } = turn.settings;
      if (outcome.code === "waiting-contactor" && panelIndex !== null) {
        result.wantsPanel[panelIndex] = true;
      }
      continue;
    }
    if (hasSwitched) {
      if (!isRunning) result.verdicts[turn.index] = verdictOf("waiting-priority", 0);
      continue;
    }
    hasSwitched = true;
    result.stages[turn.index] = outcome;
    result.verdicts[turn.index] = verdictOf("running", outcome, {
      measured: input.site.socFraction,
      limit: stopMarkFraction(turn.settings, input.site),
    });
  }
}

/** The stage to switch to now, or why none. */
function stageToStart(
  turn: LoadTurn,
  input: ScheduleInput,
  now: { readonly result: Schedule; readonly staggerLeftMs: number },
): number | Verdict {
  const refusal = refusalOf(turn, input);
  if (refusal !== null) return refusal;
  const stage = fittingStage(turn, input, now.result);
  if (typeof stage !== "number") return stage;
  return staggerOrContactor(turn, input, now.staggerLeftMs) ?? stage;
}

/** The battery's current was measured before the last start: it does not show that load yet. */
function isCurrentOld({ observation, lastStartMs }: ScheduleInput): boolean {
  const { quality, ageMs } = observation.battery.currentA;
  return quality === "fresh" && observation.monotonicMs - ageMs <= lastStartMs;
}

/** A running staged load that is neither being reduced nor at its top, and has settled. */
function mayStepUp(turn: LoadTurn, input: ScheduleInput, result: Schedule): boolean {
  const { memory, settings, index } = turn;
  const isSettled = input.observation.monotonicMs - memory.changedAtMs >= settings.startForMs;
  return (
    result.verdicts[index]?.code === "running" &&
    result.stages[index] === memory.stage &&
    memory.stage < settings.stagesW.length &&
    memory.isConfirmed &&
    isSettled
  );
}

/** Everything that speaks against a start before power is looked at; null if nothing does. */
function refusalOf(turn: LoadTurn, input: ScheduleInput): Verdict | null {
  const { memory, settings } = turn;
  const { observation, view } = input;
  const nowMs = observation.monotonicMs;
  if (memory.latch !== "none") return verdictOf(memory.latch, 0);
  if (memory.isByHand) return verdictOf("by-hand", 0);
  const gap = demandGap(memory, { site: observation, load: turn.observation }, settings);
  if (gap !== null) return verdictOf(gap.code, 0, gap);
  if (memory.stage === 0) {
    const waiting = timerRefusal(turn, nowMs);
    if (waiting !== null) return waiting;
  }
  if (!isAboveStart(settings, view)) {
    const mark = waitingForMark(settings, view);
    return verdictOf(mark.code, 0, mark);
  }
  if (!hasHeld(memory.aboveSinceMs, settings.startForMs, nowMs)) {
    return verdictOf("waiting-dwell", 0, {
      remainingMs: heldRemainingMs(memory.aboveSinceMs, settings.startForMs, nowMs),
    });
  }
  const generatorLeftMs = (input.generatorAtMs ?? -Infinity) + AFTER_GENERATOR_MS - nowMs;
  if (generatorLeftMs > 0 && !settings.mayLoadGenerator) {
    return verdictOf("waiting-generator", 0, { remainingMs: generatorLeftMs });
  }
  const high = input.site.findings.find((finding) => finding.code === "voltage-high");
  return high === undefined ? null : verdictOf("waiting-high-voltage", 0, high);
}

function timerRefusal(turn: LoadTurn, nowMs: number): Verdict | null {
  const { memory, settings } = turn;
  const restLeftMs = settings.minRestMs - (nowMs - memory.stoppedAtMs);
  if (restLeftMs > 0) return verdictOf("waiting-rest", 0, { remainingMs: restLeftMs });
  const retryLeftMs = (memory.retryAtMs ?? nowMs) - nowMs;
  if (retryLeftMs > 0) return verdictOf("waiting-retry", 0, { remainingMs: retryLeftMs });
  if (settings.startsPerHourMax === null) return null;
  const startsLeftMs = windowRemainingMs(memory.startsAtMs, {
    limit: settings.startsPerHourMax,
    windowMs: STARTS_WINDOW_MS,
    nowMs,
  });
  if (startsLeftMs === 0) return null;
  return verdictOf("waiting-starts", 0, {
    measured: memory.startsAtMs.length,
    limit: settings.startsPerHourMax,
    remainingMs: startsLeftMs,
  });
}

/** The largest stage that everything has room for, or why not even the smallest has. */
function fittingStage(turn: LoadTurn, input: ScheduleInput, result: Schedule): number | Verdict {
  const { stagesW } = turn.settings;
  let refusal = verdictOf("waiting-power", 0);
  for (let stage = stagesW.length; stage > turn.memory.stage; stage -= 1) {
    const found = roomRefusal(turn, input, { stage, result });
    if (found === null) return stage;
    refusal = found;
  }
  return refusal;
}

function roomRefusal(
  turn: LoadTurn,
  input: ScheduleInput,
  wanted: { readonly stage: number; readonly result: Schedule },
): Verdict | null {
  const { settings, memory } = turn;
  const addedW = stagePowerW(settings, wanted.stage) - stagePowerW(settings, memory.stage);
  return (
    powerRefusal(turn, input, addedW) ??
    inverterRefusal(turn, input, addedW) ??
    feederRefusal(turn, input, wanted)
  );
}

/**
 * Power to spare must cover the load, or the band must be able to pay the difference for one
 * minimum run: that is the try which shows what a held-back array can give.
 */
function powerRefusal(turn: LoadTurn, input: ScheduleInput, addedW: number): Verdict | null {
  const { site, settings } = input;
  const neededW = addedW / settings.inverter.efficiencyFraction;
  // Without a current, by day the band alone decides; in the dark, or in doubt, that is no reason.
  if (site.availableW === null && site.isDaylight === true) return null;
  const shortW = neededW - (site.availableW ?? 0);
  if (shortW <= 0) return null;
  const tryMs = Math.max(turn.settings.minRunMs, TRY_MS);
  if ((shortW * tryMs) / MS_PER_HOUR <= site.lendableWh) return null;
  if (site.isFullChargeDue) return verdictOf("waiting-full-charge", 0);
  const code = site.isDaylight === false ? "waiting-night" : "waiting-power";
  return verdictOf(code, 0, { measured: site.availableW, limit: neededW });
}

function inverterRefusal(turn: LoadTurn, input: ScheduleInput, addedW: number): Verdict | null {
  const headroomW = input.site.inverterHeadroomW;
  if (headroomW === null) return null;
  if (addedW > headroomW) {
    return verdictOf("waiting-inverter", 0, { measured: headroomW, limit: addedW });
  }
  const { continuousW, surgeVA } = input.settings.inverter;
  const surgeLeftVA = surgeVA - (continuousW - headroomW);
  const startVA = turn.settings.startPowerVA ?? addedW;
  if (startVA <= surgeLeftVA) return null;
  return verdictOf("waiting-surge", 0, { measured: surgeLeftVA, limit: startVA });
}

/**
 * Rated power of the panel's running loads and this one against the feeder's continuous limit. A
 * load that is on by hand counts at its largest stage.
 */
function feederRefusal(
  turn: LoadTurn,
  input: ScheduleInput,
  wanted: { readonly stage: number; readonly result: Schedule },
): Verdict | null {
  const { panelIndex } = turn.settings;
  if (panelIndex === null) return null;
  const panel = itemAt(input.settings.panels, panelIndex);
  let takenW = 0;
  for (const [index, other] of input.settings.loads.entries()) {
    if (other.panelIndex !== panelIndex || index === turn.index) continue;
    const { isByHand } = itemAt(input.loads, index);
    const stage = isByHand ? other.stagesW.length : itemAt(wanted.result.stages, index);
    takenW += stagePowerW(other, stage);
  }
  const neededW = stagePowerW(turn.settings, wanted.stage);
  const leftW = panel.feederMaxW - takenW;
  if (neededW <= leftW) return null;
  return verdictOf("waiting-feeder", 0, { measured: leftW, limit: neededW });
}

function staggerOrContactor(
  turn: LoadTurn,
  input: ScheduleInput,
  staggerLeftMs: number,
): Verdict | null {
  if (staggerLeftMs > 0) return verdictOf("waiting-stagger", 0, { remainingMs: staggerLeftMs });
  const { panelIndex } = turn.settings;
  if (panelIndex === null) return null;
  return isPanelLive(panelIndex, input) ? null : verdictOf("waiting-contactor", 0);
}
