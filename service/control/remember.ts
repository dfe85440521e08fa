import type { SiteFinding } from "./decision.ts";
import { itemAt } from "./item-at.ts";
import type { LoadMemory, Memory, PanelMemory } from "./memory.ts";
import type { Observation } from "./observation.ts";
import { acMoveW, acPowerW } from "./power-step.ts";
import type { SiteJudgement } from "./site-verdict.ts";

/** What is remembered of a tick once all is settled. */
export function remember(
  before: Memory,
  observation: Observation,
  now: {
    readonly battery: Memory["battery"];
    readonly sun: Memory["sun"];
    readonly outlook: Memory["outlook"];
    readonly judgement: SiteJudgement;
    readonly unmeteredW: number | null;
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
    acMoveW: acMoveW(before, observation),
    unmeteredW: now.unmeteredW,
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
    siteCodes: codesOf(judgement.verdict.findings, before.siteCodes),
  };
}

/** The same list while the findings are the same: so it is at most ticks. */
function codesOf(
  findings: readonly SiteFinding[],
  before: Memory["siteCodes"],
): Memory["siteCodes"] {
  let isSame = findings.length === before.length;
  for (let at = 0; isSame && at < findings.length; at += 1) {
    isSame = itemAt(findings, at).code === before[at];
  }
  return isSame ? before : findings.map(({ code }) => code);
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

function isGeneratorOn({ isGeneratorRunning }: Observation): boolean {
  return isGeneratorRunning.quality === "fresh" && isGeneratorRunning.value;
}

function hasRisen(before: readonly LoadMemory[], after: readonly LoadMemory[]): boolean {
  if (after === before) return false;
  for (let index = 0; index < after.length; index += 1) {
    if (itemAt(after, index).stage > itemAt(before, index).stage) return true;
  }
  return false;
}

function hasFallen(before: readonly LoadMemory[], after: readonly LoadMemory[]): boolean {
  return hasRisen(after, before);
}
