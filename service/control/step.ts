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
import { invariant } from "./invariant.ts";
import { heldLoads } from "./interlocks.ts";
import type { InterlockInput } from "./interlocks.ts";
import { itemAt, numberAt } from "./item-at.ts";
import { acPowerW, inverterView } from "./learned-power.ts";
import { advanceTimers, commanded } from "./load-timers.ts";
import type { LoadMemory, Memory, PanelMemory } from "./memory.ts";
import type { Observation } from "./observation.ts";
import { advanceOutlook } from "./outlook/outlook.ts";
import { confirmPanel, decidePanel, isPanelLive, panelAfter } from "./panels.ts";
import type { PanelOutcome } from "./panels.ts";
import { inverterRatings } from "./ratings.ts";
import { schedule } from "./schedule.ts";
import type { Schedule } from "./schedule-turn.ts";
import type { ControlSettings } from "./settings.ts";
import { estimateStateOfCharge } from "./state-of-charge.ts";
import { judgeSite } from "./site-verdict.ts";
import type { SiteJudgement } from "./site-verdict.ts";
import { drawnW } from "./surplus.ts";
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
export const step: Step = (memory, observation, settings) => {
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
  const isAfterGap = skippedMs > 0;
  const loads = loadsBefore({ memory, panels }, observation, {
    settings,
    site,
    view,
    dtMs,
    isAfterGap,
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
  const allowed = applyInterlocks(wanted, held);
  const panelOutcomes = decidePanels(wanted, allowed, interlocks);
  const nextMemory = remember(memory, observation, {
    battery: estimate.memory,
    sun,
    outlook: advanceOutlook(memory.outlook, observation, { settings, site, estimate, dtMs }),
    judgement,
    loads: loads.map((load, index) => loadAfter(load, { index, wanted, allowed, nowMs })),
    panels: panels.map((panel, index) => panelAfter(panel, itemAt(panelOutcomes, index), nowMs)),
  });
  const commands = commandsOf(nextMemory);
  return {
    memory: nextMemory,
    decision: {
      site,
      loadStages: commands.loadStages,
      loadPowersW: commands.loadPowersW,
      loadWarnings: commands.loadWarnings,
      panelsClosed: commands.panelsClosed,
      verdicts: allowed.verdicts,
      panelVerdicts: panelOutcomes.map((outcome) => outcome.verdict),
      events: eventsBetween(memory, nextMemory),
    },
  };
};

function remember(
  before: Memory,
  observation: Observation,
  now: {
    readonly battery: Memory["battery"];
    readonly sun: Memory["sun"];
    readonly outlook: Memory["outlook"];
    readonly judgement: SiteJudgement;
    readonly loads: readonly LoadMemory[];
    readonly panels: readonly PanelMemory[];
  },
): Memory {
  const nowMs = observation.monotonicMs;
  const { loads, panels, judgement } = now;
  return {
    version: before.version,
    lastTickMs: nowMs,
    acPowerW: acPowerW(observation),
    battery: withFullDay(now.battery, observation),
    sun: now.sun,
    outlook: now.outlook,
    potential: judgement.potential,
    loads,
    panels,
    lastStartMs: hasRisen(before.loads, loads) ? nowMs : before.lastStartMs,
    lastStopMs: hasFallen(before.loads, loads) ? nowMs : before.lastStopMs,
    unbalancedSinceMs: judgement.unbalancedSinceMs,
    generatorAtMs: isGeneratorOn(observation) ? nowMs : before.generatorAtMs,
    siteCodes: judgement.verdict.findings.map((finding) => finding.code),
  };
}

function loadAfter(
  load: LoadMemory,
  now: {
    readonly index: number;
    readonly wanted: Schedule;
    readonly allowed: Allowed;
    readonly nowMs: number;
  },
): LoadMemory {
  const { index, wanted, allowed, nowMs } = now;
  const stage = numberAt(allowed.stages, index);
  const powerW = stage === 0 ? 0 : numberAt(wanted.powersW, index);
  const verdict = itemAt(allowed.verdicts, index).code;
  return commanded(load, { stage, powerW, note: itemAt(wanted.notes, index), verdict }, nowMs);
}

type Commands = Pick<Decision, "loadStages" | "loadPowersW" | "loadWarnings" | "panelsClosed">;

function commandsOf({ loads, panels }: Memory): Commands {
  return {
    loadStages: loads.map((load) => load.stage),
    loadPowersW: loads.map((load) => load.powerW),
    loadWarnings: loads.map((load) => load.guard.warnedSinceMs !== null),
    panelsClosed: panels.map((panel) => panel.isClosed),
  };
}

function checkLists(memory: Memory, observation: Observation, settings: ControlSettings): void {
  invariant(memory.loads.length === settings.loads.length, "memory must have every load");
  invariant(memory.panels.length === settings.panels.length, "memory must have every panel");
  invariant(observation.loads.length === settings.loads.length, "every load must be observed");
  invariant(observation.panels.length === settings.panels.length, "every panel must be observed");
  invariant(observation.sources.length === settings.sources.length, "every source is observed");
  const { legs } = settings.inverter;
  invariant(observation.inverter.legPowersW.length === legs.length, "every leg is observed");
}

/**
 * The days since a full charge count from the first day on which the core ran. A day that is still
 * to come was written by a clock that went wrong, and would put the next charge off till then.
 */
function withFullDay(battery: Memory["battery"], observation: Observation): Memory["battery"] {
  const { localDay, isWallClockPlausible } = observation;
  const isKnown = battery.fullOnDay !== null && battery.fullOnDay <= localDay;
  return isKnown || !isWallClockPlausible ? battery : { ...battery, fullOnDay: localDay };
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
  },
): LoadMemory[] {
  const { settings, site, view, dtMs, isAfterGap } = input;
  const inverter = inverterView(before.memory, observation, settings);
  return before.memory.loads.map((load, index) => {
    const loadSettings = itemAt(settings.loads, index);
    const loadObservation = itemAt(observation.loads, index);
    return advanceTimers(
      load,
      { site: observation, load: loadObservation },
      {
        site,
        view,
        settings: loadSettings,
        toleranceW: settings.battery.toleranceW,
        drawnW: drawnW(load, loadObservation.powerW),
        nowMs: observation.monotonicMs,
        dtMs,
        inverter,
        isAfterGap,
        isLive:
          loadSettings.panelIndex === null ||
          isPanelLive(loadSettings.panelIndex, { panels: before.panels, observation, settings }),
      },
    );
  });
}

function panelsBefore(
  memory: Memory,
  observation: Observation,
  settings: ControlSettings,
): PanelMemory[] {
  const nowMs = observation.monotonicMs;
  return memory.panels.map((panel, index) =>
    confirmPanel(panel, itemAt(observation.panels, index), {
      settings: itemAt(settings.panels, index),
      nowMs,
    }),
  );
}

interface Allowed {
  readonly stages: number[];
  readonly verdicts: Verdict[];
}

/** The panels after their loads; one that opens in this tick takes its loads with it. */
function decidePanels(wanted: Schedule, allowed: Allowed, input: InterlockInput): PanelOutcome[] {
  const outcomes = input.panels.map((_panel, index) =>
    decidePanel(
      { index, isWanted: itemAt(wanted.wantsPanel, index), stages: allowed.stages },
      input,
    ),
  );
  for (let index = 0; index < input.settings.loads.length; index += 1) {
    const { panelIndex } = itemAt(input.settings.loads, index);
    if (panelIndex === null || itemAt(outcomes, panelIndex).isClosed) continue;
    if (numberAt(allowed.stages, index) === 0) continue;
    allowed.stages[index] = 0;
    allowed.verdicts[index] = verdictOf("panel-open", 0);
  }
  return outcomes;
}

function applyInterlocks(wanted: Schedule, held: readonly (Verdict | null)[]): Allowed {
  const stages = wanted.stages.slice();
  const verdicts = wanted.verdicts.slice();
  for (let index = 0; index < held.length; index += 1) {
    const interlock = itemAt(held, index);
    if (interlock === null) continue;
    // A waiting load has more to say about an open panel than that it is open.
    const isWaitingForPanel = stages[index] === 0 && interlock.code === "panel-open";
    stages[index] = 0;
    if (!isWaitingForPanel) verdicts[index] = interlock;
  }
  return { stages, verdicts };
}

function isGeneratorOn({ isGeneratorRunning }: Observation): boolean {
  return isGeneratorRunning.quality === "fresh" && isGeneratorRunning.value;
}

function hasRisen(before: readonly LoadMemory[], after: readonly LoadMemory[]): boolean {
  for (let index = 0; index < after.length; index += 1) {
    if (itemAt(after, index).stage > itemAt(before, index).stage) return true;
  }
  return false;
}

function hasFallen(before: readonly LoadMemory[], after: readonly LoadMemory[]): boolean {
  return hasRisen(after, before);
}
