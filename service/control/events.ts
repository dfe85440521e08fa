import type { CoreEvent } from "./decision.ts";
import { itemAt } from "./item-at.ts";
import type { LoadMemory, Memory, PanelMemory } from "./memory.ts";
import { SITE_CODES } from "./site-codes.ts";
import { VERDICT_CODES } from "./verdict-codes.ts";
import type { CodeEntry } from "./code-entry.ts";
import type { SiteCode } from "./site-codes.ts";
import type { VerdictCode } from "./verdict-codes.ts";

/** What changed from one tick's memory to the next: an alarm is raised once and cleared once. */
export function eventsBetween(before: Memory, after: Memory): CoreEvent[] {
  const events: CoreEvent[] = [];
  if (after.siteCodes !== before.siteCodes) addSite(events, before.siteCodes, after.siteCodes);
  if (after.loads !== before.loads) addLoads(events, before.loads, after.loads);
  if (after.panels !== before.panels) addPanels(events, before.panels, after.panels);
  return events;
}

function addLoads(
  events: CoreEvent[],
  before: readonly LoadMemory[],
  after: readonly LoadMemory[],
): void {
  for (let index = 0; index < after.length; index += 1) {
    const previous = itemAt(before, index);
    const load = itemAt(after, index);
    if (load !== previous) addLoad(events, { index, previous, load });
  }
}

function addPanels(
  events: CoreEvent[],
  before: readonly PanelMemory[],
  after: readonly PanelMemory[],
): void {
  for (let index = 0; index < after.length; index += 1) {
    addPanel(events, { index, previous: itemAt(before, index), panel: itemAt(after, index) });
  }
}

function addSite(
  events: CoreEvent[],
  before: readonly SiteCode[],
  after: readonly SiteCode[],
): void {
  for (const code of after) {
    if (!before.includes(code)) events.push(siteEvent("raised", code));
  }
  for (const code of before) {
    if (!after.includes(code)) events.push(siteEvent("cleared", code));
  }
}

function siteEvent(change: "raised" | "cleared", code: SiteCode): CoreEvent {
  return { about: "site", index: 0, change, code };
}

function addLoad(
  events: CoreEvent[],
  turn: { readonly index: number; readonly previous: LoadMemory; readonly load: LoadMemory },
): void {
  const { index, previous, load } = turn;
  if (load.stage !== previous.stage) {
    const change = previous.stage === 0 ? "started" : load.stage === 0 ? "stopped" : "stage";
    events.push({ about: "load", index, change, code: load.verdict });
  }
  if (load.verdict === previous.verdict) return;
  if (isGrave(previous.verdict)) {
    events.push({ about: "load", index, change: "cleared", code: previous.verdict });
  }
  if (isGrave(load.verdict)) {
    events.push({ about: "load", index, change: "raised", code: load.verdict });
  }
}

function addPanel(
  events: CoreEvent[],
  turn: { readonly index: number; readonly previous: PanelMemory; readonly panel: PanelMemory },
): void {
  const { index, previous, panel } = turn;
  if (panel.isClosed !== previous.isClosed) {
    const change = panel.isClosed ? "closed" : "opened";
    events.push({ about: "panel", index, change, code: panel.verdict });
  }
  if (panel.verdict === previous.verdict) return;
  if (isGrave(previous.verdict)) {
    events.push({ about: "panel", index, change: "cleared", code: previous.verdict });
  }
  if (isGrave(panel.verdict)) {
    events.push({ about: "panel", index, change: "raised", code: panel.verdict });
  }
}

/** Warnings and alarms about one load or panel; a held site is told once, for the site. */
function isGrave(code: VerdictCode): boolean {
  const entry: CodeEntry = VERDICT_CODES[code];
  return entry.severity !== "info" && code !== "site-interlock" && code !== "panel-open";
}

/** The dictionary entry of a code, wherever it stands. */
export function codeEntry(code: VerdictCode | SiteCode): CodeEntry {
  return isSiteCode(code) ? SITE_CODES[code] : VERDICT_CODES[code];
}

function isSiteCode(code: VerdictCode | SiteCode): code is SiteCode {
  return Object.hasOwn(SITE_CODES, code);
}
