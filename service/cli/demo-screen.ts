/** What the demo shows on a terminal of 80 columns: one line a change, one line an hour. */
import type { LocalTime } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { CoreEvent, Decision } from "../control/decision.ts";
import { codeEntry } from "../control/events.ts";
import { explainFinding, explainSite, explainVerdict, formatQuantity } from "../control/explain.ts";
import { hangingLines } from "../hanging-text.ts";

const MINUTES_PER_HOUR = 60;

export interface DemoScreen {
  show(decision: Decision, time: LocalTime): void;
}

export function createDemoScreen(site: SiteSettings, print: (line: string) => void): DemoScreen {
  let lastHour: number | null = null;
  return {
    show(decision, { localMinute }) {
      const time = clockTime(localMinute);
      for (const event of decision.events) {
        const said = sentenceOf(event, decision, site);
        if (said !== null) hangingLines(`${time}  `, said).forEach(print);
      }
      const hour = Math.floor(localMinute / MINUTES_PER_HOUR);
      if (hour !== lastHour) hangingLines(`${time}  `, explainSite(decision.site)).forEach(print);
      lastHour = hour;
    },
  };
}

function sentenceOf(event: CoreEvent, decision: Decision, site: SiteSettings): string | null {
  if (event.about === "load") return loadSentence(event, decision, site);
  if (event.about === "panel") {
    const id = site.control.panels[event.index]?.id ?? "?";
    if (event.change === "closed" || event.change === "opened") {
      return `panel ${id}: contactor ${event.change}`;
    }
    return raisedOrCleared(event, `panel ${id}`);
  }
  const finding = decision.site.findings.find(({ code }) => code === event.code);
  return finding === undefined
    ? raisedOrCleared(event, "site")
    : `! site: ${explainFinding(finding)}`;
}

function loadSentence(event: CoreEvent, decision: Decision, site: SiteSettings): string | null {
  const load = site.control.loads[event.index];
  const verdict = decision.verdicts[event.index];
  if (load === undefined || verdict === undefined) return null;
  const sentence = explainVerdict(verdict, decision.site);
  switch (event.change) {
    case "started":
    case "stage": {
      const power = formatQuantity(load.stagesW[verdict.stage - 1] ?? 0, "powerW");
      return `${load.id} (${power}): ${sentence}`;
    }
    case "stopped":
      return `${load.id}: ${sentence}`;
    case "raised":
      return `! ${load.id}: ${sentence}`;
    default:
      return raisedOrCleared(event, load.id);
  }
}

function raisedOrCleared(event: CoreEvent, who: string): string {
  const sign = event.change === "raised" ? "! " : "";
  return `${sign}${who}: ${event.code} ${event.change} (${codeEntry(event.code).severity})`;
}

function clockTime(minute: number): string {
  const hour = Math.floor(minute / MINUTES_PER_HOUR);
  return `${pad(hour)}:${pad(minute % MINUTES_PER_HOUR)}`;
}

function pad(value: number): string {
  return String(value).padStart(2, "0");
}
