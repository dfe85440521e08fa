/** A recorded day decided once more, and held against what was decided then. */
import type { Decision, SiteVerdict, Verdict } from "../control/decision.ts";
import type { Memory } from "../control/memory.ts";
import type { Observation } from "../control/observation.ts";
import type { ControlSettings } from "../control/settings.ts";
import type { Step } from "../control/step.ts";
import { decidedBy } from "../history/journal/decided.ts";
import type { Decided } from "../history/journal/decided.ts";
import type { JournalStart } from "../history/journal/journal.ts";
import type { JournalEntry } from "../history/journal/read-journal.ts";

export interface Reproduction {
  /** Ticks that were decided again, up to and with the first that differs. */
  readonly tickCount: number;
  /** Of which so many had a load on. */
  readonly runningCount: number;
  /** What each stretch of the day began with. */
  readonly stretches: readonly Stretch[];
  /** Times of the day of which the journal has no tick. */
  readonly gaps: readonly Gap[];
  readonly damages: readonly Extract<JournalEntry, { readonly kind: "damage" }>[];
  /** The first; null if every decision is the same. What follows it would differ, too. */
  readonly difference: Difference | null;
}

export interface Stretch {
  /** Of its first tick. */
  readonly wallMs: number;
  readonly codeVersion: string;
  readonly settingsHash: string;
}

export interface Gap {
  readonly fromWallMs: number;
  readonly toWallMs: number;
}

export interface Difference {
  readonly wallMs: number;
  readonly localMinute: number;
  /** `figures`: every load and panel is as it was, but a number of the decision is another. */
  readonly about: "load" | "panel" | "figures" | "failure";
  readonly id: string | null;
  readonly recorded: Outcome | null;
  readonly reproduced: Outcome | null;
  /** Of that load or panel, or of all; none where the core could not decide at all. */
  readonly verdicts: readonly Verdict[];
  /** Beside which they are to be read. */
  readonly site: SiteVerdict | null;
  readonly message: string | null;
}

export interface Outcome {
  readonly code: string;
  /** Of a panel, 1 is closed. */
  readonly stage: number;
}

/** No tick for so long is a gap, whatever the pace. [ms] */
const GAP_MS = 60_000;
/** …and so is no tick for so many times the pace. */
const GAP_TICKS = 5;

interface State {
  readonly step: Step;
  readonly gaps: Gap[];
  readonly stretches: Stretch[];
  memory: Memory;
  settings: ControlSettings;
  /** A start whose first tick has not come yet. */
  start: JournalStart | null;
  lastWallMs: number | null;
  tickCount: number;
  runningCount: number;
}

/** @param entries - Of one day, in order. Ticks before the first start cannot be decided. */
export function reproduce(entries: Iterable<JournalEntry>, step: Step): Reproduction {
  const damages: Reproduction["damages"][number][] = [];
  let state: State | null = null;
  let difference: Difference | null = null;
  for (const entry of entries) {
    if (entry.kind === "damage") damages.push(entry);
    else if (entry.kind === "start") state = begin(state, entry.start, step);
    else if (state !== null) difference = decideAgain(state, entry);
    if (difference !== null) break;
  }
  const { tickCount = 0, runningCount = 0, stretches = [], gaps = [] } = state ?? {};
  return { tickCount, runningCount, stretches, gaps, damages, difference };
}

function begin(before: State | null, start: JournalStart, step: Step): State {
  const { memory, settings } = start;
  const counts = before ?? {
    gaps: [],
    stretches: [],
    lastWallMs: null,
    tickCount: 0,
    runningCount: 0,
  };
  return { ...counts, step, memory, settings, start };
}

function decideAgain(
  state: State,
  tick: { readonly observation: Observation; readonly decided: Decided },
): Difference | null {
  const { observation, decided } = tick;
  noteTime(state, observation);
  state.tickCount += 1;
  try {
    const { memory, decision } = state.step(state.memory, observation, state.settings);
    state.memory = memory;
    if (decision.loadStages.some((stage) => stage > 0)) state.runningCount += 1;
    return differenceOf(state.settings, decision, { observation, decided });
  } catch (error) {
    // Written by another version of the core: its observations are not ours.
    const message = error instanceof Error ? error.message : String(error);
    const none = { id: null, recorded: null, reproduced: null, verdicts: [], site: null };
    return { ...timeOf(observation), about: "failure", ...none, message };
  }
}

function noteTime(state: State, { wallMs }: Observation): void {
  const { lastWallMs, start, settings, gaps, stretches } = state;
  if (start !== null) {
    const { codeVersion, settingsHash } = start;
    stretches.push({ wallMs, codeVersion, settingsHash });
    state.start = null;
  }
  const longestMs = Math.max(GAP_MS, GAP_TICKS * settings.tickMs);
  if (lastWallMs !== null && Math.abs(wallMs - lastWallMs) > longestMs) {
    gaps.push({ fromWallMs: lastWallMs, toWallMs: wallMs });
  }
  state.lastWallMs = wallMs;
}

function timeOf({ wallMs, localMinute }: Observation): Pick<Difference, "wallMs" | "localMinute"> {
  return { wallMs, localMinute };
}

function differenceOf(
  { loads, panels }: ControlSettings,
  decision: Decision,
  { observation, decided }: { readonly observation: Observation; readonly decided: Decided },
): Difference | null {
  const again = decidedBy(decision);
  const ofLoad = firstOther(loads, loadOutcomes(decided), loadOutcomes(again));
  const ofPanel = firstOther(panels, panelOutcomes(decided), panelOutcomes(again));
  const { verdicts, panelVerdicts, site } = decision;
  const time = { ...timeOf(observation), site, message: null };
  if (ofLoad !== null) return { ...time, about: "load", ...pick(ofLoad, verdicts) };
  if (ofPanel !== null) return { ...time, about: "panel", ...pick(ofPanel, panelVerdicts) };
  if (again.sum === decided.sum) return null;
  return { ...time, about: "figures", id: null, recorded: null, reproduced: null, verdicts };
}

function pick(
  { index, ...other }: Other,
  verdicts: readonly Verdict[],
): Omit<Other, "index"> & Pick<Difference, "verdicts"> {
  return { ...other, verdicts: verdicts.slice(index, index + 1) };
}

function loadOutcomes({ loadStages, loadCodes }: Decided): readonly Outcome[] {
  return loadCodes.map((code, index) => ({ code, stage: loadStages[index] ?? 0 }));
}

function panelOutcomes({ panelsClosed, panelCodes }: Decided): readonly Outcome[] {
  return panelCodes.map((code, index) => ({ code, stage: panelsClosed[index] === true ? 1 : 0 }));
}

interface Other extends Pick<Difference, "id" | "recorded" | "reproduced"> {
  readonly index: number;
}

function firstOther(
  owners: readonly { readonly id: string }[],
  recorded: readonly Outcome[],
  reproduced: readonly Outcome[],
): Other | null {
  for (const [index, { id }] of owners.entries()) {
    const before = recorded[index] ?? null;
    const now = reproduced[index] ?? null;
    if (before?.code === now?.code && before?.stage === now?.stage) continue;
    return { index, id, recorded: before, reproduced: now };
  }
  return null;
}
