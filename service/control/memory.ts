/**
 * Everything the core remembers between two ticks: plain data that survives a round trip through
 * JSON. Instants are `monotonicMs` of the run that wrote them; a new run starts from
 * `restoreMemory`, or from `initialMemory`, where every load counts as just stopped.
 */
import { nothingDrawn } from "./draw-memory.ts";
import type { DrawMemory } from "./draw-memory.ts";
import type { ChargeStage } from "./observation.ts";
import { initialOutlook } from "./outlook/outlook-memory.ts";
import type { OutlookMemory } from "./outlook/outlook-memory.ts";
import { initialPotential } from "./potential-memory.ts";
import type { PotentialMemory } from "./potential-memory.ts";
import type { ControlSettings, LoadSettings } from "./settings.ts";
import type { SiteCode } from "./site-codes.ts";
import type { VerdictCode } from "./verdict-codes.ts";

export const MEMORY_VERSION = 1;

export interface BatteryMemory {
  /** Our own count of the charge; null until it has been anchored. [1] 0…1 */
  readonly countFraction: number | null;
  /** Last tick at which the monitor could be used to check the count. */
  readonly checkedAtMs: number | null;
  /** Time since then, or since the last full charge, in which no current was counted. [ms] ≥ 0 */
  readonly unseenMs: number;
  /** What of it is really there, of lead-acid; null: not known, or lithium. [1] 0…1 */
  readonly storedFraction: number | null;
  /** Losses of charge towards full, over those that the settings say, of lead-acid. [1] > 0 */
  readonly lossFactor: number;
  /** Those by the settings since the last completed charge; null: not known. [1] ≥ 0 */
  readonly lostFraction: number | null;
  readonly isDisagreeing: boolean;
  /** Where the monitor stood when it was last held against the current; null: not yet. [1] 0…1 */
  readonly followedFraction: number | null;
  /** Charge counted since then, as a share of the capacity. [1] */
  readonly followedCharge: number;
  readonly isNotFollowing: boolean;
  /** What it took in absorption when last held at its set-point; null: not now. [W] */
  readonly acceptedW: number | null;
  readonly acceptedAtMs: number | null;
  readonly stage: ChargeStage;
  readonly isFull: boolean;
  /** Since when voltage is at the set-point with only tail current. */
  readonly tailSinceMs: number | null;
  /** Local day of the last completed absorption or full charge. */
  readonly fullOnDay: number | null;
}

export interface SunMemory {
  readonly localDay: number;
  readonly sunriseMs: number | null;
  readonly sunsetMs: number | null;
  readonly isUpAtNoon: boolean;
}

export interface LoadMemory {
  readonly id: string;
  /** What was last commanded; 0 = off. */
  readonly stage: number;
  /** Last change of the commanded stage. */
  readonly changedAtMs: number;
  /** Start of the present run; null while off. */
  readonly startedAtMs: number | null;
  /** End of the last run, by us or by hand. */
  readonly stoppedAtMs: number;
  readonly aboveSinceMs: number | null;
  readonly belowSinceMs: number | null;
  readonly starvedSinceMs: number | null;
  readonly wantsHeat: boolean;
  /** Starts within the last hour, oldest first. */
  readonly startsAtMs: readonly number[];
  readonly day: number;
  readonly ranTodayMs: number;
  readonly usedTodayWh: number;
  readonly startsToday: number;
  /** The present command has been seen to work. */
  readonly isConfirmed: boolean;
  /**
   * Since when report or meter say something else than the present command; it ends only when they
   * have agreed for the settling time, so that a chattering contact does not pass for a sound one.
   */
  readonly contradictsSinceMs: number | null;
  readonly agreesSinceMs: number | null;
  /** We have commanded it on since the core started. */
  readonly wasOurs: boolean;
  readonly failedConfirmations: number;
  readonly retryAtMs: number | null;
  readonly isByHand: boolean;
  readonly latch: LoadLatch;
  /** Allotted AC power: of the stage, or the set-point if modulating. [W] */
  readonly powerW: number;
  /** When the set-point last changed. */
  readonly setAtMs: number;
  /** A modulating load does not feel upwards before this. */
  readonly riseAfterMs: number;
  /** The present run began on what the band lends, and has not proved itself yet. */
  readonly isTry: boolean;
  /** Tries of today that failed in a row. */
  readonly failedTries: number;
  /** No further try before this. */
  readonly tryAfterMs: number;
  readonly draw: DrawMemory;
  readonly guard: GuardMemory;
  /** What a person, or its deadline, asks for; null: nothing that still holds. */
  readonly asked: AskedMemory | null;
  readonly verdict: VerdictCode;
}

/** `run` and `hold` by a person; `be-ready` by the load's own deadline. */
export interface AskedMemory {
  readonly wants: "run" | "hold" | "be-ready";
  readonly untilMs: number;
}

export const LOAD_LATCHES = [
  "none",
  "latched-dead",
  "latched-welded",
  "latched-element",
  "latched-open",
  "latched-dry-run",
  "latched-sockets",
] as const;
export type LoadLatch = (typeof LOAD_LATCHES)[number];

/** What tanks, pumps and sockets are watched by; the same object for a load that has none. */
export interface GuardMemory {
  /** What the tank should show for what was put into it; null: not heating. */
  readonly heating: HeatingMemory | null;
  /** Times in a row that the tank did not warm. */
  readonly unwarmedTimes: number;
  /** Since when it looks as if the pump ran dry. */
  readonly drySinceMs: number | null;
  /** Times in a row that it did. */
  readonly dryTimes: number;
  readonly wantsFilling: boolean;
  /** Last press of the button beside the sockets; null: none that counts. */
  readonly requestedAtMs: number | null;
  /** Presses up to this instant do not count: the last stop by an interlock. */
  readonly pressesAfterMs: number;
  /** Since when people are warned that the sockets go off; null: they are not. */
  readonly warnedSinceMs: number | null;
  readonly overloadsToday: number;
}

/** The tank's warming, to hold against the energy put in. */
export interface HeatingMemory {
  /** A reference that is at most an hour old. */
  readonly sinceMs: number;
  readonly fromC: number;
  /** Put in since then. [Wh] AC */
  readonly energyWh: number;
  /** Lowest since it was last seen to warm. [°C] */
  readonly lowestC: number;
  /** Put in since it was last seen to warm. [Wh] AC */
  readonly unwarmedWh: number;
}

export interface PanelMemory {
  readonly id: string;
  readonly isClosed: boolean;
  readonly changedAtMs: number;
  readonly lastUsedAtMs: number;
  /** Since when its report contradicts the command. */
  readonly contradictsSinceMs: number | null;
  readonly isLatched: boolean;
  readonly verdict: VerdictCode;
}

export interface Memory {
  readonly version: typeof MEMORY_VERSION;
  /** Tick before this one; null at the first. */
  readonly lastTickMs: number | null;
  /** The inverter's AC power at that tick; null: not known. [W] */
  readonly acPowerW: number | null;
  /** What it had moved by since the tick before; null: not known. [W] */
  readonly acMoveW: number | null;
  /** Of it, what nothing meters, at the last reading while a load without a meter ran. [W] */
  readonly unmeteredW: number | null;
  readonly battery: BatteryMemory;
  readonly sun: SunMemory | null;
  readonly outlook: OutlookMemory;
  /** What was learned of the arrays, and how clear it was. */
  readonly potential: PotentialMemory;
  readonly loads: readonly LoadMemory[];
  readonly panels: readonly PanelMemory[];
  /** Last load or panel switched, for the stagger time. */
  readonly lastStartMs: number;
  readonly lastStopMs: number;
  /** Since when the measured powers do not add up. */
  readonly unbalancedSinceMs: number | null;
  /** Last tick at which the generator ran; null: not since the core started. */
  readonly generatorAtMs: number | null;
  readonly siteCodes: readonly SiteCode[];
}

/**
 * Memory of a site about which nothing is known: every load counts as just stopped at `nowMs`.
 *
 * @param nowMs - `monotonicMs` of the first observation. [ms]
 */
export function initialMemory(settings: ControlSettings, nowMs: number): Memory {
  return {
    version: MEMORY_VERSION,
    lastTickMs: null,
    acPowerW: null,
    acMoveW: null,
    unmeteredW: null,
    battery: {
      countFraction: null,
      checkedAtMs: null,
      unseenMs: 0,
      storedFraction: null,
      lossFactor: 1,
      lostFraction: null,
      isDisagreeing: false,
      followedFraction: null,
      followedCharge: 0,
      isNotFollowing: false,
      acceptedW: null,
      acceptedAtMs: null,
      stage: "bulk",
      isFull: false,
      tailSinceMs: null,
      fullOnDay: null,
    },
    sun: null,
    outlook: initialOutlook(nowMs),
    potential: initialPotential(settings),
    loads: settings.loads.map((load) => initialLoad(load, nowMs)),
    panels: settings.panels.map((panel) => ({
      id: panel.id,
      isClosed: false,
      changedAtMs: nowMs,
      lastUsedAtMs: nowMs,
      contradictsSinceMs: null,
      isLatched: false,
      verdict: "panel-idle",
    })),
    lastStartMs: nowMs,
    lastStopMs: nowMs,
    unbalancedSinceMs: null,
    generatorAtMs: null,
    siteCodes: [],
  };
}

function initialLoad(load: LoadSettings, nowMs: number): LoadMemory {
  return {
    id: load.id,
    stage: 0,
    changedAtMs: nowMs,
    startedAtMs: null,
    stoppedAtMs: nowMs,
    aboveSinceMs: null,
    belowSinceMs: null,
    starvedSinceMs: null,
    wantsHeat: true,
    // Nobody knows how often it was started before: the hour counts as used up.
    startsAtMs: new Array<number>(load.startsPerHourMax ?? 0).fill(nowMs),
    day: Number.MIN_SAFE_INTEGER,
    ranTodayMs: 0,
    usedTodayWh: 0,
    startsToday: 0,
    isConfirmed: false,
    contradictsSinceMs: null,
    agreesSinceMs: null,
    wasOurs: false,
    failedConfirmations: 0,
    retryAtMs: null,
    isByHand: false,
    latch: "none",
    powerW: 0,
    setAtMs: nowMs,
    riseAfterMs: nowMs,
    isTry: false,
    failedTries: 0,
    tryAfterMs: nowMs,
    draw: nothingDrawn(load.stagesW.length),
    guard: {
      heating: null,
      unwarmedTimes: 0,
      drySinceMs: null,
      dryTimes: 0,
      wantsFilling: true,
      requestedAtMs: null,
      pressesAfterMs: nowMs,
      warnedSinceMs: null,
      overloadsToday: 0,
    },
    asked: null,
    verdict: "waiting-rest",
  };
}
