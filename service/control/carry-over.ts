/**
 * Memory under new settings: what was learned and what runs stays with its id; what is new begins
 * like a load about which nothing is known.
 */
import { isAskedToRun } from "./asked.ts";
import { itemAt, numberOrNullAt } from "./item-at.ts";
import { isLearnable } from "./learned-power.ts";
import { initialMemory } from "./memory.ts";
import type { LoadMemory, Memory, PanelMemory } from "./memory.ts";
import type { ControlSettings, LoadSettings } from "./settings.ts";
import { allotmentW } from "./stage-power.ts";

/** Loads and panels, by id, whose actuator stays the same one; the others were told OFF. */
export interface KeptActuators {
  readonly loads: ReadonlySet<string>;
  readonly panels: ReadonlySet<string>;
}

/**
 * @param memory - Of the settings before.
 * @param input.kept - An actuator that is not kept begins as off, though its latch stays.
 */
export function carryOver(
  memory: Memory,
  settings: ControlSettings,
  input: { readonly kept: KeptActuators; readonly nowMs: number },
): Memory {
  const { kept, nowMs } = input;
  const fresh = initialMemory(settings, nowMs);
  const loads = fresh.loads.map((blank, index) => {
    const before = memory.loads.find((load) => load.id === blank.id);
    if (before === undefined) return blank;
    return loadUnder(itemAt(settings.loads, index), {
      blank,
      before,
      isKept: kept.loads.has(blank.id),
    });
  });
  const panels = fresh.panels.map((blank) => {
    const before = memory.panels.find((panel) => panel.id === blank.id);
    return before === undefined ? blank : panelUnder(blank, before, kept.panels);
  });
  // The plan was made for the battery, the arrays and the loads of before.
  const outlook = { ...memory.outlook, clearDays: null, plan: null };
  return { ...memory, outlook, loads, panels, unbalancedSinceMs: null };
}

function loadUnder(
  settings: LoadSettings,
  { blank, before, isKept }: { blank: LoadMemory; before: LoadMemory; isKept: boolean },
): LoadMemory {
  const hasStage = before.stage <= settings.stagesW.length;
  if (isKept && hasStage) {
    const load = { ...before, draw: isLearnedUnder(settings, before) ? before.draw : blank.draw };
    return { ...load, powerW: powerUnder(settings, load) };
  }
  const { latch, failedConfirmations, day, ranTodayMs, usedTodayWh, startsToday } = before;
  const { unwarmedTimes, dryTimes, overloadsToday } = before.guard;
  const guard = { ...blank.guard, unwarmedTimes, dryTimes, overloadsToday };
  // What is wanted off stays off; what was wanted on was another device.
  const asked = isAskedToRun(before) ? null : before.asked;
  const today = { day, ranTodayMs, usedTodayWh, startsToday };
  return { ...blank, ...today, latch, failedConfirmations, guard, asked };
}

/** What was learned can have been learned of a load like this one. */
function isLearnedUnder(settings: LoadSettings, { draw }: LoadMemory): boolean {
  const { stagesW, modulating, sockets } = settings;
  if (draw.learnedW.length !== stagesW.length) return false;
  if (modulating !== null || sockets !== null)
    return draw.learnedW.every((powerW) => powerW === null);
  return stagesW.every((ratedW, place) =>
    isLearnable(numberOrNullAt(draw.learnedW, place), ratedW),
  );
}

/** The set-point within the new limits, or what the stage draws under them. */
function powerUnder(settings: LoadSettings, before: LoadMemory): number {
  if (before.stage === 0) return 0;
  const { modulating } = settings;
  if (modulating === null) return allotmentW({ settings, memory: before }, before.stage);
  return Math.min(modulating.maxW, Math.max(modulating.minW, before.powerW));
}

function panelUnder(
  blank: PanelMemory,
  before: PanelMemory,
  kept: ReadonlySet<string>,
): PanelMemory {
  return kept.has(blank.id) ? before : { ...blank, isLatched: before.isLatched };
}
