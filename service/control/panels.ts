/**
 * The contactor of a panel that is live only on surplus. It closes without load (every member is
 * seen off) and, in the normal course, opens without load, which is what makes contactors last. A
 * contactor that does not do as told is latched until a person has looked.
 */
import { hasHeld, heldSince } from "./blocks/held-since.ts";
import { isSeenOff, saysOn } from "./actuators.ts";
import type { Verdict } from "./decision.ts";
import { feederOverload, hasWeldedMember, mustPanelOpen } from "./interlocks.ts";
import type { InterlockInput } from "./interlocks.ts";
import { countAt, itemAt } from "./item-at.ts";
import type { PanelMemory } from "./memory.ts";
import type { PanelObservation } from "./observation.ts";
import { timedVerdict, verdictOf } from "./verdict.ts";
import type { PanelSettings } from "./settings.ts";

/** A meter may show this much for nothing. [W] common practice, no source */
const OPEN_POWER_MAX_W = 50;
const PANEL_IDLE = verdictOf("panel-idle", 0);
const PANEL_CLOSED = verdictOf("panel-closed", 1);

/** Latch and confirmation after this tick's observation. */
export function confirmPanel(
  panel: PanelMemory,
  observation: PanelObservation,
  input: { readonly settings: PanelSettings; readonly nowMs: number },
): PanelMemory {
  const { settings, nowMs } = input;
  const report = observation.isClosed;
  const wasLatched = panel.isLatched && observation.request !== "clear";
  const says = report.quality === "fresh" ? report.value : null;
  // A contactor that has said nothing yet contradicts "closed", not "open".
  const contradicts =
    (settings.hasReport && (says ?? false) !== panel.isClosed) ||
    (!panel.isClosed && drawsPower(panel, observation, nowMs));
  const sinceMs = observation.request === "clear" ? null : panel.contradictsSinceMs;
  const contradictsSinceMs = heldSince(sinceMs, contradicts, nowMs);
  const isLatched = wasLatched || hasHeld(contradictsSinceMs, settings.settleMs, nowMs);
  if (contradictsSinceMs === panel.contradictsSinceMs && isLatched === panel.isLatched)
    return panel;
  const { id, isClosed, changedAtMs, lastUsedAtMs, verdict } = panel;
  return { id, isClosed, changedAtMs, lastUsedAtMs, contradictsSinceMs, isLatched, verdict };
}

/** The meter has shown power since the contactor was opened. */
function drawsPower(panel: PanelMemory, observation: PanelObservation, nowMs: number): boolean {
  const { quality, value, ageMs } = observation.powerW;
  return quality === "fresh" && nowMs - ageMs > panel.changedAtMs && value > OPEN_POWER_MAX_W;
}

/** Commanded closed, and reported so; without a report, once it has had its time. */
export function isPanelLive(panelIndex: number, input: Watched): boolean {
  const panel = itemAt(input.panels, panelIndex);
  const settings = itemAt(input.settings.panels, panelIndex);
  const { isClosed } = itemAt(input.observation.panels, panelIndex);
  if (!panel.isClosed) return false;
  if (settings.hasReport) return isClosed.quality === "fresh" && isClosed.value;
  return input.observation.monotonicMs - panel.changedAtMs >= settings.settleMs;
}

export interface PanelTurn {
  readonly index: number;
  /** A load waits for it to close. */
  readonly isWanted: boolean;
  /** Stages after the interlock pass. */
  readonly stages: readonly number[];
}

export interface PanelOutcome {
  readonly isClosed: boolean;
  readonly lastUsedAtMs: number;
  readonly verdict: Verdict;
}

export function decidePanel(turn: PanelTurn, input: InterlockInput): PanelOutcome {
  const panel = itemAt(input.panels, turn.index);
  const settings = itemAt(input.settings.panels, turn.index);
  const nowMs = input.observation.monotonicMs;
  if (mustPanelOpen(turn.index, input)) {
    const verdict = whyOpen(turn.index, input);
    return { isClosed: false, lastUsedAtMs: panel.lastUsedAtMs, verdict };
  }
  const isUsed = turn.isWanted || hasRunningMember(turn, input);
  const lastUsedAtMs = isUsed ? nowMs : panel.lastUsedAtMs;
  if (panel.isClosed) {
    const lingerLeftMs = settings.openAfterMs - (nowMs - lastUsedAtMs);
    if (isUsed) return { isClosed: true, lastUsedAtMs, verdict: PANEL_CLOSED };
    // Opens without load, but does not wait for a member that has fallen silent.
    if (lingerLeftMs > 0 || isMemberOn(turn.index, input)) {
      const verdict = timedVerdict("panel-lingers", 1, Math.max(0, lingerLeftMs));
      return { isClosed: true, lastUsedAtMs, verdict };
    }
    return { isClosed: false, lastUsedAtMs, verdict: PANEL_IDLE };
  }
  if (!turn.isWanted) return { isClosed: false, lastUsedAtMs, verdict: PANEL_IDLE };
  if (!areMembersOff(turn.index, input)) {
    return { isClosed: false, lastUsedAtMs, verdict: verdictOf("panel-waits-members", 0) };
  }
  return { isClosed: true, lastUsedAtMs, verdict: PANEL_CLOSED };
}

/** Memory of a panel after its decision. */
export function panelAfter(panel: PanelMemory, outcome: PanelOutcome, nowMs: number): PanelMemory {
  const verdict = outcome.verdict.code;
  const { isClosed, lastUsedAtMs } = outcome;
  const isSwitched = isClosed !== panel.isClosed;
  const isSame = lastUsedAtMs === panel.lastUsedAtMs && verdict === panel.verdict;
  if (isSame && !isSwitched) return panel;
  return {
    id: panel.id,
    isClosed,
    changedAtMs: isSwitched ? nowMs : panel.changedAtMs,
    lastUsedAtMs,
    contradictsSinceMs: isSwitched ? null : panel.contradictsSinceMs,
    isLatched: panel.isLatched,
    verdict,
  };
}

function whyOpen(index: number, input: InterlockInput): Verdict {
  if (itemAt(input.panels, index).isLatched) return verdictOf("latched-panel", 0);
  if (hasWeldedMember(index, input)) return verdictOf("latched-welded", 0);
  return feederOverload(index, input) ?? verdictOf("site-interlock", 0);
}

function hasRunningMember(turn: PanelTurn, input: InterlockInput): boolean {
  const { loads } = input.settings;
  for (let index = 0; index < loads.length; index += 1) {
    const isMember = itemAt(loads, index).panelIndex === turn.index;
    if (isMember && countAt(turn.stages, index) > 0) return true;
  }
  return false;
}

type Watched = Pick<InterlockInput, "panels" | "settings" | "observation">;

/** It is closed, or nothing on it stands in the way of that. */
export function canPanelClose(panelIndex: number, input: Watched): boolean {
  return itemAt(input.panels, panelIndex).isClosed || areMembersOff(panelIndex, input);
}

function areMembersOff(panelIndex: number, input: Watched): boolean {
  const { loads } = input.settings;
  for (let index = 0; index < loads.length; index += 1) {
    const load = itemAt(loads, index);
    if (load.panelIndex !== panelIndex) continue;
    if (!isSeenOff(itemAt(input.observation.loads, index), load)) return false;
  }
  return true;
}

function isMemberOn(panelIndex: number, input: InterlockInput): boolean {
  const { loads } = input.settings;
  for (let index = 0; index < loads.length; index += 1) {
    const load = itemAt(loads, index);
    if (load.panelIndex !== panelIndex) continue;
    if (saysOn(itemAt(input.observation.loads, index), load)) return true;
  }
  return false;
}
