/**
 * The last pass. Whoever wants a load on (scheduler, a person, later a generator) ends here, and
 * this pass can only turn off: it takes wanted stages and returns the same or 0, panels the same or
 * open. Keep it short enough to be read in five minutes.
 */
import { askedLeftMs } from "./asked.ts";
import { hasHeld } from "./blocks/held-since.ts";
import type { SiteFinding, Verdict } from "./decision.ts";
import { guardInterlock, isGuarded } from "./guard.ts";
import { itemAt } from "./item-at.ts";
import type { LoadMemory, PanelMemory } from "./memory.ts";
import type { LoadObservation, Observation } from "./observation.ts";
import { measuredVerdict, timedVerdict, verdictOf } from "./verdict.ts";
import type { ControlSettings, LoadSettings } from "./settings.ts";
import { SITE_CODES } from "./site-codes.ts";

/** Most loads are held by one of these all night long. */
const PANEL_OPEN = verdictOf("panel-open", 0);
const SITE_INTERLOCK = verdictOf("site-interlock", 0);

export interface InterlockInput {
  readonly settings: ControlSettings;
  readonly observation: Observation;
  readonly findings: readonly SiteFinding[];
  readonly loads: readonly LoadMemory[];
  readonly panels: readonly PanelMemory[];
}

/** Why each load must be off now; null for one that nothing holds. Worked out once a tick. */
export function heldLoads(input: InterlockInput): readonly (Verdict | null)[] {
  const held = new Array<Verdict | null>(input.loads.length);
  for (let index = 0; index < input.loads.length; index += 1) {
    held[index] = interlockOf(index, input);
  }
  return held;
}

/** Why the load must be off now; null if nothing holds it. */
export function interlockOf(index: number, input: InterlockInput): Verdict | null {
  const settings = itemAt(input.settings.loads, index);
  const memory = itemAt(input.loads, index);
  const observation = itemAt(input.observation.loads, index);
  if (memory.latch !== "none") {
    const measured = memory.latch === "latched-dead" ? memory.failedConfirmations : null;
    return measuredVerdict(memory.latch, 0, { measured, limit: null });
  }
  const { monotonicMs: nowMs } = input.observation;
  return (
    siteInterlock(settings, input.findings) ??
    tankInterlock(settings, observation) ??
    (isGuarded(settings) ? guardInterlock(memory, observation, { settings, nowMs }) : null) ??
    panelInterlock(settings, input) ??
    confirmationInterlock(memory, settings, nowMs) ??
    holdOnRequest(memory, nowMs)
  );
}

function siteInterlock(settings: LoadSettings, findings: readonly SiteFinding[]): Verdict | null {
  for (const { code } of findings) {
    const isExempt = code === "generator-running" && settings.mayLoadGenerator;
    if (SITE_CODES[code].isInterlock && !isExempt) return SITE_INTERLOCK;
  }
  return null;
}

function tankInterlock(settings: LoadSettings, observation: LoadObservation): Verdict | null {
  const { tank } = settings;
  if (tank === null) return null;
  const temperature = observation.tankTemperatureC;
  if (temperature.quality !== "fresh") return verdictOf("tank-unknown", 0);
  if (temperature.value < tank.limitC) return null;
  return measuredVerdict("tank-hot", 0, { measured: temperature.value, limit: tank.limitC });
}

function panelInterlock(settings: LoadSettings, input: InterlockInput): Verdict | null {
  const { panelIndex } = settings;
  if (panelIndex === null) return null;
  const panel = itemAt(input.panels, panelIndex);
  if (panel.isLatched) return verdictOf("latched-panel", 0);
  const overload = feederOverload(panelIndex, input);
  if (overload !== null) return overload;
  return panel.isClosed ? null : PANEL_OPEN;
}

/** The panel draws more than its feeder may carry, whoever switched its loads on. */
export function feederOverload(panelIndex: number, input: InterlockInput): Verdict | null {
  const power = itemAt(input.observation.panels, panelIndex).powerW;
  const limit = itemAt(input.settings.panels, panelIndex).feederMaxW;
  if (power.quality !== "fresh" || power.value <= limit) return null;
  return measuredVerdict("feeder-overload", 0, { measured: power.value, limit });
}

/** Commanded on, and its settling time ran out without a confirmation. */
function confirmationInterlock(
  memory: LoadMemory,
  settings: LoadSettings,
  nowMs: number,
): Verdict | null {
  if (memory.stage === 0 || memory.isConfirmed) return null;
  if (!hasHeld(memory.contradictsSinceMs, settings.settleMs, nowMs)) return null;
  return measuredVerdict("unconfirmed", 0, {
    measured: memory.failedConfirmations,
    limit: settings.latchAfter,
  });
}

/** A person wants it off; the last of the reasons, as it is the only one that is no trouble. */
function holdOnRequest({ asked }: LoadMemory, nowMs: number): Verdict | null {
  if (asked === null || asked.wants !== "hold") return null;
  return timedVerdict("held-off", 0, askedLeftMs(asked, nowMs));
}

/**
 * A panel must be open while the site is held off, its feeder is overloaded, or its contactor or
 * the contact of a load on it does not obey.
 */
export function mustPanelOpen(panelIndex: number, input: InterlockInput): boolean {
  if (isSiteHeld(input.findings) && !someMayLoadGenerator(panelIndex, input)) return true;
  if (itemAt(input.panels, panelIndex).isLatched) return true;
  return feederOverload(panelIndex, input) !== null || hasWeldedMember(panelIndex, input);
}

function isSiteHeld(findings: readonly SiteFinding[]): boolean {
  for (const { code } of findings) {
    if (SITE_CODES[code].isInterlock) return true;
  }
  return false;
}

/** The contact of a load on the panel does not open. */
export function hasWeldedMember(panelIndex: number, input: InterlockInput): boolean {
  const { loads } = input.settings;
  for (let index = 0; index < loads.length; index += 1) {
    const isMember = itemAt(loads, index).panelIndex === panelIndex;
    if (isMember && itemAt(input.loads, index).latch === "latched-welded") return true;
  }
  return false;
}

/** Only the generator holds the site, and a load on the panel may run on it. */
function someMayLoadGenerator(panelIndex: number, input: InterlockInput): boolean {
  const isOnlyGenerator = input.findings.every(
    ({ code }) => code === "generator-running" || !SITE_CODES[code].isInterlock,
  );
  return (
    isOnlyGenerator &&
    input.settings.loads.some((load) => load.panelIndex === panelIndex && load.mayLoadGenerator)
  );
}
