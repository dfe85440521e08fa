/** What people and other programs see of a core event. */
import type { SiteSettings } from "../config/site-settings.ts";
import type { CoreEvent, Decision } from "./control/decision.ts";
import { codeEntry } from "./control/events.ts";
import { explainFinding, explainVerdict } from "./control/explain.ts";
import type { CodeEntry } from "./control/code-entry.ts";
import { timestamp } from "./timestamp.ts";

export interface EventView {
  /** RFC 3339, UTC. */
  readonly at: string;
  readonly about: CoreEvent["about"];
  /** Of the site, the load or the panel. */
  readonly id: string;
  readonly label: string;
  readonly change: CoreEvent["change"];
  readonly code: CoreEvent["code"];
  readonly severity: CodeEntry["severity"];
  /** Why it is so now; null for what is over. */
  readonly sentence: string | null;
}

export function eventViews(site: SiteSettings, decision: Decision, wallMs: number): EventView[] {
  return decision.events.map((event) => ({
    at: timestamp(wallMs),
    about: event.about,
    ...ownerOf(site, event),
    change: event.change,
    code: event.code,
    severity: codeEntry(event.code).severity,
    sentence: event.change === "cleared" ? null : sentenceOf(decision, event),
  }));
}

function ownerOf(
  { id, label, control }: SiteSettings,
  { about, index }: CoreEvent,
): { readonly id: string; readonly label: string } {
  switch (about) {
    case "site":
      return { id, label };
    case "load": {
      const load = control.loads[index];
      return { id: load?.id ?? id, label: load?.label ?? label };
    }
    case "panel": {
      const panel = control.panels[index];
      return { id: panel?.id ?? id, label: panel?.id ?? label };
    }
  }
}

function sentenceOf(decision: Decision, { about, index, code }: CoreEvent): string | null {
  if (about === "site") {
    const finding = decision.site.findings.find((one) => one.code === code);
    return finding === undefined ? null : explainFinding(finding);
  }
  const verdicts = about === "load" ? decision.verdicts : decision.panelVerdicts;
  const verdict = verdicts[index];
  return verdict?.code === code ? explainVerdict(verdict, decision.site) : null;
}
