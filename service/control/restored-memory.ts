/**
 * Memory after a restart, out of what the run before saved. No load is on; what must not be
 * forgotten is a latch, what was used today, and how long a load still has to rest.
 *
 * How long the service was away only the wall clock can tell. Where it cannot, no time counts as
 * passed: every rest begins anew, and the hour's starts count as used up. Of a version that is not
 * known only the latches are kept.
 */
import { restoredLossFactor } from "./stored-charge.ts";
import { initialMemory, LOAD_LATCHES, MEMORY_VERSION } from "./memory.ts";
import type { DrawMemory } from "./draw-memory.ts";
import type { AskedMemory, BatteryMemory, GuardMemory, LoadLatch } from "./memory.ts";
import type { LoadMemory, Memory } from "./memory.ts";
import { restoredOutlook } from "./outlook/restored-outlook.ts";
import { potentialAgain } from "./restored-potential.ts";
import {
  amountOf,
  countOf,
  fieldOf,
  isBounded,
  listOf,
  numberOf,
  truthOf,
} from "./saved-fields.ts";
import type { ControlSettings } from "./settings.ts";
import { UNSEEN_MAX_MS } from "./state-of-charge.ts";

export interface RestoreTimes {
  /** `monotonicMs` of the new run. [ms] */
  readonly nowMs: number;
  /** Milliseconds since 1970-01-01T00:00:00Z, now and at the last tick of the run before. */
  readonly wallMs: number;
  readonly savedWallMs: number;
  /** Of both of them. */
  readonly isWallClockPlausible: boolean;
}

/** No wait of ours is longer; one that reads as longer is a mistake. [ms] */
const WAIT_MAX_MS = 24 * 3_600_000;
/** A load that is on so soon after a run of ours is not on by hand. Ours, no source. [ms] */
const STILL_OURS_MS = 600_000;

/** Instants of the run before, as instants of this one. */
interface Bridge {
  /** null: nobody knows how long the service was away. [ms] ≥ 0 */
  readonly gapMs: number | null;
  /** At the latest now. */
  readonly past: (instantMs: number) => number;
  /** A wait goes on with what is left of it. */
  readonly wait: (instantMs: number) => number;
}

/** @param saved - Whatever was in the file: nothing about it is taken for granted. */
export function restoreMemory(
  saved: unknown,
  settings: ControlSettings,
  times: RestoreTimes,
): Memory {
  const blank = initialMemory(settings, times.nowMs);
  const bridge = bridgeOf(saved, times);
  const loads = listOf(saved, "loads");
  const panels = listOf(saved, "panels");
  return {
    ...blank,
    outlook:
      bridge === null ? blank.outlook : restoredOutlook(fieldOf(saved, "outlook"), times.nowMs),
    battery: batteryAgain(blank.battery, fieldOf(saved, "battery"), bridge),
    potential:
      bridge === null
        ? blank.potential
        : potentialAgain(blank.potential, fieldOf(saved, "potential"), bridge),
    loads: blank.loads.map((load) => loadAgain(load, byId(loads, load.id), bridge)),
    panels: blank.panels.map((panel) => ({
      ...panel,
      isLatched: truthOf(byId(panels, panel.id), "isLatched", false),
    })),
    generatorAtMs: bridge === null ? null : pastOf(saved, "generatorAtMs", bridge),
  };
}

function byId(list: readonly unknown[], id: string): unknown {
  return list.find((one) => fieldOf(one, "id") === id);
}

/** @returns null for a version that is not known, or memory of no tick. */
function bridgeOf(saved: unknown, times: RestoreTimes): Bridge | null {
  const lastMs = numberOf(saved, "lastTickMs");
  if (fieldOf(saved, "version") !== MEMORY_VERSION || lastMs === null) return null;
  const { nowMs, wallMs, savedWallMs, isWallClockPlausible } = times;
  const awayMs = wallMs - savedWallMs;
  const gapMs = isWallClockPlausible && awayMs >= 0 ? awayMs : null;
  const shiftMs = nowMs - (gapMs ?? 0) - lastMs;
  return {
    gapMs,
    past: (instantMs) => Math.min(nowMs, instantMs + shiftMs),
    wait: (instantMs) => Math.min(nowMs + WAIT_MAX_MS, instantMs + shiftMs),
  };
}

function pastOf(saved: unknown, key: string, { past }: Bridge): number | null {
  const instantMs = numberOf(saved, key);
  return instantMs === null ? null : past(instantMs);
}

function waitOf(saved: unknown, key: string, { wait }: Bridge): number | null {
  const instantMs = numberOf(saved, key);
  return instantMs === null ? null : wait(instantMs);
}

/** A number between 0 and 1; anything else is none. */
function shareOf(saved: unknown, key: string): number | null {
  const share = numberOf(saved, key);
  return share !== null && share >= 0 && share <= 1 ? share : null;
}

/** The count goes on only where so little went by unseen that it would be believed. */
function batteryAgain(blank: BatteryMemory, saved: unknown, bridge: Bridge | null): BatteryMemory {
  const lossFactor = restoredLossFactor(numberOf(saved, "lossFactor"));
  if (bridge === null) return { ...blank, lossFactor };
  const kept: BatteryMemory = {
    ...blank,
    lossFactor,
    isNotFollowing: truthOf(saved, "isNotFollowing", false),
    fullOnDay: numberOf(saved, "fullOnDay"),
  };
  const countFraction = shareOf(saved, "countFraction");
  const unseenMs = amountOf(saved, "unseenMs") + (bridge.gapMs ?? Infinity);
  if (countFraction === null || unseenMs > UNSEEN_MAX_MS) return kept;
  return {
    ...kept,
    countFraction,
    unseenMs,
    storedFraction: shareOf(saved, "storedFraction"),
    checkedAtMs: pastOf(saved, "checkedAtMs", bridge),
    isDisagreeing: truthOf(saved, "isDisagreeing", false),
    isFull: truthOf(saved, "isFull", false),
  };
}

function loadAgain(blank: LoadMemory, saved: unknown, bridge: Bridge | null): LoadMemory {
  const latched = { ...blank, latch: latchOf(saved) };
  if (bridge === null) return latched;
  const learned: LoadMemory = {
    ...latched,
    ...usedToday(blank, saved),
    wantsHeat: truthOf(saved, "wantsHeat", blank.wantsHeat),
    failedConfirmations: countOf(saved, "failedConfirmations"),
    retryAtMs: waitOf(saved, "retryAtMs", bridge),
    failedTries: countOf(saved, "failedTries"),
    tryAfterMs: waitOf(saved, "tryAfterMs", bridge) ?? blank.tryAfterMs,
    draw: drawAgain(blank.draw, fieldOf(saved, "draw")),
    guard: guardAgain(blank.guard, fieldOf(saved, "guard")),
    asked: holdAgain(fieldOf(saved, "asked"), bridge),
  };
  const { gapMs } = bridge;
  return gapMs === null ? learned : restedLoad(learned, saved, { bridge, gapMs });
}

/** One that ran may have run until now, when it is told OFF: it has not rested yet. */
function restedLoad(
  load: LoadMemory,
  saved: unknown,
  { bridge, gapMs }: { readonly bridge: Bridge; readonly gapMs: number },
): LoadMemory {
  const isOff = fieldOf(saved, "stage") === 0;
  const stoppedAtMs = pastOf(saved, "stoppedAtMs", bridge);
  const wasNotSeenOff = truthOf(saved, "wasOurs", false) && !truthOf(saved, "isConfirmed", false);
  const isSoon = gapMs <= STILL_OURS_MS;
  return {
    ...load,
    stoppedAtMs: isOff ? (stoppedAtMs ?? load.stoppedAtMs) : load.stoppedAtMs,
    startsAtMs: startsAgain(load.startsAtMs, saved, bridge),
    wasOurs: isSoon && (!isOff || wasNotSeenOff),
  };
}

/** Nothing starts after a restart because it was asked for before; what was held off stays off. */
function holdAgain(saved: unknown, { wait }: Bridge): AskedMemory | null {
  const untilMs = numberOf(saved, "untilMs");
  if (fieldOf(saved, "wants") !== "hold" || untilMs === null) return null;
  return { wants: "hold", untilMs: wait(untilMs) };
}

/** If one of them cannot be read, the hour counts as used up. */
function startsAgain(usedUp: readonly number[], saved: unknown, bridge: Bridge): readonly number[] {
  const starts = fieldOf(saved, "startsAtMs");
  if (!Array.isArray(starts) || !starts.every(isBounded)) return usedUp;
  return starts.map(bridge.past).sort((a, b) => a - b);
}

/** A latch of a kind that is not known is one all the same. */
function latchOf(saved: unknown): LoadLatch {
  const found = fieldOf(saved, "latch");
  const known = LOAD_LATCHES.find((latch) => latch === found);
  if (known !== undefined) return known;
  return typeof found === "string" && found.startsWith("latched") ? "latched-dead" : "none";
}

/** The core itself begins a new day, once the clock says that it is one. */
function usedToday(
  blank: LoadMemory,
  saved: unknown,
): Pick<LoadMemory, "day" | "ranTodayMs" | "usedTodayWh" | "startsToday"> {
  return {
    day: numberOf(saved, "day") ?? blank.day,
    ranTodayMs: amountOf(saved, "ranTodayMs"),
    usedTodayWh: amountOf(saved, "usedTodayWh"),
    startsToday: countOf(saved, "startsToday"),
  };
}

function drawAgain(blank: DrawMemory, saved: unknown): DrawMemory {
  const learnedW = listOf(saved, "learnedW").map((powerW) =>
    isBounded(powerW) && powerW > 0 ? powerW : null,
  );
  const isOfStages = learnedW.length === blank.learnedW.length;
  const steps = listOf(saved, "stepsW");
  return {
    ...blank,
    learnedW: isOfStages ? learnedW : blank.learnedW,
    stepsW: isOfStages ? blank.stepsW.map((_, place) => stepsAgain(steps[place])) : blank.stepsW,
    idleTimes: countOf(saved, "idleTimes"),
  };
}

/** Of versions that kept none there are none. */
function stepsAgain(saved: unknown): readonly number[] {
  if (!Array.isArray(saved) || !saved.every(isBounded)) return [];
  return saved.filter((stepW) => stepW > 0);
}

/** A press of the button before the restart starts nothing after it. */
function guardAgain(blank: GuardMemory, saved: unknown): GuardMemory {
  return {
    ...blank,
    unwarmedTimes: countOf(saved, "unwarmedTimes"),
    dryTimes: countOf(saved, "dryTimes"),
    wantsFilling: truthOf(saved, "wantsFilling", blank.wantsFilling),
    overloadsToday: countOf(saved, "overloadsToday"),
  };
}
