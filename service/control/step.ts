/**
 * One tick: what is known → what is decided. The daemon and the simulator run this same function.
 *
 * It is total: no observation makes it throw (only a memory or observation whose lists do not fit
 * the settings, which is a programmer's error). It has no clock, no chance, no I/O.
 */
import type { BandView } from "./band-marks.ts";
import { sunOfToday } from "./daylight.ts";
import type { Decision, SiteVerdict, Verdict } from "./decision.ts";
import { eventsBetween } from "./events.ts";
import { checkLists } from "./check-lists.ts";
import { heldLoads } from "./interlocks.ts";
import type { InterlockInput } from "./interlocks.ts";
import { countAt, itemAt, numberAt } from "./item-at.ts";
import { advanceTimers, commanded } from "./load-timers.ts";
import type { LoadMemory, Memory, PanelMemory } from "./memory.ts";
import type { Observation } from "./observation.ts";
import { advanceOutlook } from "./outlook/outlook.ts";
import { confirmPanel, decidePanel, isPanelLive, panelAfter } from "./panels.ts";
import type { PanelOutcome } from "./panels.ts";
import { inverterView } from "./power-step.ts";
import type { InverterView } from "./power-step.ts";
import { inverterRatings } from "./ratings.ts";
import { remember } from "./remember.ts";
import { schedule } from "./schedule.ts";
import type { Schedule } from "./schedule-turn.ts";
import type { ControlSettings } from "./settings.ts";
import { estimateStateOfCharge } from "./state-of-charge.ts";
import { judgeSite } from "./site-verdict.ts";
import { drawnW } from "./surplus.ts";
import { unlearned } from "./unlearn.ts";
import { verdictOf } from "./verdict.ts";

export interface StepResult {
  readonly memory: Memory;
  readonly decision: Decision;
}

export type Step = (
  memory: Memory,
  observation: Observation,
  settings: ControlSettings,
) => StepResult;

/** A longer pause (a suspended computer) is not counted as run time or charge. [ms] */
const COUNTED_GAP_MAX_MS = 120_000;

/**
 * Decides one tick.
 *
 * @throws InvariantError if the lists in memory, observation and settings differ in length.
 */
export const step: Step = (before, observation, settings) => {
  const { unlearn } = observation;
  const memory = unlearn === "none" ? before : unlearned(before, unlearn, settings);
  checkLists(memory, observation, settings);
  const nowMs = observation.monotonicMs;
  const sinceLastMs = nowMs - (memory.lastTickMs ?? nowMs);
  const dtMs = Math.min(COUNTED_GAP_MAX_MS, Math.max(0, sinceLastMs));
  const skippedMs = Math.max(0, sinceLastMs - dtMs);
  const estimate = estimateStateOfCharge(memory.battery, observation, {
    battery: settings.battery,
    dtMs,
    skippedMs,
  });
  const sun = sunOfToday(memory.sun, observation, settings);
  const ratings = inverterRatings(observation, settings);
  const judgement = judgeSite(memory, observation, { settings, estimate, sun, ratings, dtMs });
  const site = judgement.verdict;
  const view = { site, isAtSetpoint: estimate.charge.isAtSetpoint, battery: settings.battery };
  const panels = panelsBefore(memory, observation, settings);
  const inverter = inverterView(memory, observation, settings);
  const isAfterGap = skippedMs > 0;
  const loads = loadsBefore({ memory, panels }, observation, {
    settings,
    site,
    view,
    dtMs,
    isAfterGap,
    inverter,
  });

  const interlocks = { settings, observation, findings: site.findings, loads, panels };
  const held = heldLoads(interlocks);
  const wanted = schedule({
    settings,
    observation,
    site,
    view,
    ratings,
    loads,
    panels,
    held,
    lastStartMs: memory.lastStartMs,
    lastStopMs: memory.lastStopMs,
    generatorAtMs: memory.generatorAtMs,
  });
  applyInterlocks(wanted, held);
  const panelOutcomes = decidePanels(wanted, interlocks);
  const nextMemory = remember(memory, observation, {
    battery: estimate.memory,
    sun,
    outlook: advanceOutlook(memory.outlook, observation, { settings, site, estimate, dtMs, loads }),
    judgement,
    unmeteredW: inverter.unmeteredW,
    loads: loadsAfter(loads, wanted, nowMs),
    panels: panelsAfter(panels, panelOutcomes, nowMs),
  });
  const events = eventsBetween(memory, nextMemory);
  const decision = decisionOf({ site, wanted, panelOutcomes, loads: nextMemory.loads, events });
  return { memory: nextMemory, decision };
};

function decisionOf(settled: {
  readonly site: SiteVerdict;
  readonly wanted: Schedule;
  readonly panelOutcomes: readonly PanelOutcome[];
  readonly loads: readonly LoadMemory[];
  readonly events: Decision["events"];
}): Decision {
  const { site, wanted, events } = settled;
  const { loads, panelOutcomes } = settled;
  const loadWarnings = new Array<boolean>(loads.length);
  for (let index = 0; index < loads.length; index += 1) {
    loadWarnings[index] = itemAt(loads, index).guard.warnedSinceMs !== null;
  }
  const panelsClosed = new Array<boolean>(panelOutcomes.length);
  const panelVerdicts = new Array<Verdict>(panelOutcomes.length);
  for (let index = 0; index < panelOutcomes.length; index += 1) {
    const { isClosed, verdict } = itemAt(panelOutcomes, index);
    panelsClosed[index] = isClosed;
    panelVerdicts[index] = verdict;
  }
  return {
    site,
    loadStages: wanted.stages,
    loadPowersW: wanted.powersW,
    loadWarnings,
    panelsClosed,
    verdicts: wanted.verdicts,
    panelVerdicts,
    events,
  };
}

/** The same list while no load changes. */
function loadsAfter(
  loads: readonly LoadMemory[],
  settled: Schedule,
  nowMs: number,
): readonly LoadMemory[] {
  let after: LoadMemory[] | null = null;
  for (let index = 0; index < loads.length; index += 1) {
    const load = itemAt(loads, index);
    const stage = countAt(settled.stages, index);
    const powerW = numberAt(settled.powersW, index);
    const verdict = itemAt(settled.verdicts, index).code;
    const isLikeBefore = stage === load.stage && powerW === load.powerW && verdict === load.verdict;
    if (isLikeBefore && load.asked === null) continue;
    const outcome = { stage, powerW, note: itemAt(settled.notes, index), verdict };
    after ??= loads.slice();
    after[index] = commanded(load, outcome, nowMs);
  }
  return after ?? loads;
}

function panelsAfter(
  panels: readonly PanelMemory[],
  outcomes: readonly PanelOutcome[],
  nowMs: number,
): readonly PanelMemory[] {
  let after: PanelMemory[] | null = null;
  for (let index = 0; index < panels.length; index += 1) {
    const panel = itemAt(panels, index);
    const next = panelAfter(panel, itemAt(outcomes, index), nowMs);
    if (next === panel) continue;
    after ??= panels.slice();
    after[index] = next;
  }
  return after ?? panels;
}

function loadsBefore(
  before: { readonly memory: Memory; readonly panels: readonly PanelMemory[] },
  observation: Observation,
  input: {
    readonly settings: ControlSettings;
    readonly site: SiteVerdict;
    readonly view: BandView;
    readonly dtMs: number;
    readonly isAfterGap: boolean;
    readonly inverter: InverterView;
  },
): readonly LoadMemory[] {
  const { settings, site, view, dtMs, isAfterGap, inverter } = input;
  const { panels } = before;
  const { toleranceW } = settings.battery;
  const tick = { observation, site, view, toleranceW, isAfterGap };
  const watched = { panels, observation, settings };
  const { loads } = before.memory;
  let advanced: LoadMemory[] | null = null;
  for (let index = 0; index < loads.length; index += 1) {
    const load = itemAt(loads, index);
    const loadSettings = itemAt(settings.loads, index);
    const loadObservation = itemAt(observation.loads, index);
    const { panelIndex } = loadSettings;
    const now = {
      settings: loadSettings,
      observation: loadObservation,
      nowMs: observation.monotonicMs,
      dtMs,
      inverter,
      drawnW: drawnW(load, loadObservation.powerW),
      isLive: panelIndex === null || isPanelLive(panelIndex, watched),
    };
    const next = advanceTimers(load, now, tick);
    if (next === load) continue;
    advanced ??= loads.slice();
    advanced[index] = next;
  }
  return advanced ?? loads;
}

function panelsBefore(
  memory: Memory,
  observation: Observation,
  settings: ControlSettings,
): readonly PanelMemory[] {
  const nowMs = observation.monotonicMs;
  const { panels } = memory;
  let confirmed: PanelMemory[] | null = null;
  for (let index = 0; index < panels.length; index += 1) {
    const panel = itemAt(panels, index);
    const input = { settings: itemAt(settings.panels, index), nowMs };
    const next = confirmPanel(panel, itemAt(observation.panels, index), input);
    if (next === panel) continue;
    confirmed ??= panels.slice();
    confirmed[index] = next;
  }
  return confirmed ?? panels;
}

/** The panels after their loads; one that opens in this tick takes its loads with it. */
function decidePanels(wanted: Schedule, input: InterlockInput): readonly PanelOutcome[] {
  const { stages } = wanted;
  const outcomes = new Array<PanelOutcome>(input.panels.length);
  for (let index = 0; index < input.panels.length; index += 1) {
    const isWanted = itemAt(wanted.wantsPanel, index);
    outcomes[index] = decidePanel({ index, isWanted, stages }, input);
  }
  for (let index = 0; index < input.settings.loads.length; index += 1) {
    const { panelIndex } = itemAt(input.settings.loads, index);
    if (panelIndex === null || itemAt(outcomes, panelIndex).isClosed) continue;
    if (countAt(stages, index) > 0) turnOff(index, wanted, verdictOf("panel-open", 0));
  }
  return outcomes;
}

/** The last word: whatever was wanted, a load that an interlock holds goes off. */
function applyInterlocks(wanted: Schedule, held: readonly (Verdict | null)[]): void {
  for (let index = 0; index < held.length; index += 1) {
    const interlock = itemAt(held, index);
    if (interlock === null) continue;
    // A waiting load has more to say about an open panel than that it is open.
    const isOff = countAt(wanted.stages, index) === 0;
    const isWaitingForPanel = isOff && interlock.code === "panel-open";
    turnOff(index, wanted, isWaitingForPanel ? itemAt(wanted.verdicts, index) : interlock);
  }
}

function turnOff(index: number, wanted: Schedule, verdict: Verdict): void {
  wanted.stages[index] = 0;
  wanted.powersW[index] = 0;
  wanted.verdicts[index] = verdict;
}
