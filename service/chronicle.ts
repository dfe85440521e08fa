/**
 * What has happened in this run: the last events by number, and totals since its start. The log is
 * written from here, and the web room answers from here.
 *
 * The run has a name of its own, so that a reader who comes back with a number of an earlier run is
 * not given events of this one in their place.
 */
import { randomBytes } from "node:crypto";
import type { SiteSettings } from "../config/site-settings.ts";
import type { Clock } from "./clock.ts";
import type { Decision } from "./control/decision.ts";
import type { LoadSettings } from "./control/settings.ts";
import { stagePowerW } from "./control/stage-power.ts";
import { eventViews } from "./event-view.ts";
import type { EventView } from "./event-view.ts";
import { createIgnoredLog } from "./ignored-log.ts";
import type { Log, RootLog } from "./log.ts";

export interface NumberedEvent {
  /** 1 for the first of the run. */
  readonly number: number;
  readonly event: EventView;
}

export interface LoadTotals {
  readonly id: string;
  /** Rated power of the stage that is decided now. [W] ≥ 0 */
  readonly decidedPowerW: number;
  readonly startCount: number;
  /** Decided on. [ms] ≥ 0 */
  readonly runMs: number;
}

export interface Chronicle {
  readonly runId: string;
  /** Other settings from now on; the run, its events and its totals go on. */
  readonly refit: (site: SiteSettings) => void;
  /** Once a tick. */
  readonly note: (decision: Decision) => void;
  /** The tick took so long. [ms] */
  readonly ticked: (durationMs: number) => void;
  /** Number of the last event; 0 before the first. */
  readonly lastNumber: () => number;
  /** What came after that number; null if some of it is no longer known. */
  readonly eventsAfter: (number: number) => readonly NumberedEvent[] | null;
  readonly loadTotals: () => readonly LoadTotals[];
  /** How often each code was raised, whatever it was about. */
  readonly raisedCounts: () => ReadonlyMap<EventView["code"], number>;
  /** @returns A function that ends it. */
  readonly onEvent: (listener: (event: NumberedEvent) => void) => () => void;
  readonly onTicked: (listener: (durationMs: number) => void) => () => void;
}

/** Events that are still known. */
export const EVENTS_KEPT = 1_000;

export function createChronicle(options: {
  readonly site: SiteSettings;
  readonly clock: Clock;
  readonly log: RootLog;
  /** Messages that could not be used, by reason, since the start. */
  readonly ignoredCounts: () => Readonly<Record<string, number>>;
}): Chronicle {
  const { clock, ignoredCounts } = options;
  let { site } = options;
  const log = options.log.part("control");
  const logIgnored = createIgnoredLog(options.log.part("telemetry"));
  const totals = createTotals(site);
  const ring: NumberedEvent[] = [];
  const listeners = new Set<(event: NumberedEvent) => void>();
  const tickListeners = new Set<(durationMs: number) => void>();
  let lastNumber = 0;

  const add = (event: EventView): void => {
    lastNumber += 1;
    const numbered = { number: lastNumber, event };
    ring.push(numbered);
    if (ring.length > EVENTS_KEPT) ring.shift();
    totals.count(event);
    logEvent(log, event);
    for (const listener of listeners) listener(numbered);
  };

  return {
    runId: randomBytes(6).toString("hex"),
    refit(nextSite) {
      site = nextSite;
      totals.refit(nextSite);
    },
    note(decision) {
      const nowMs = clock.monotonicMs();
      totals.run(decision, nowMs);
      logIgnored(ignoredCounts(), nowMs);
      for (const event of eventViews(site, decision, clock.wallMs())) add(event);
    },
    ticked(durationMs) {
      for (const listener of tickListeners) listener(durationMs);
    },
    lastNumber: () => lastNumber,
    eventsAfter(number) {
      const firstKnown = lastNumber - ring.length + 1;
      if (number > lastNumber || number + 1 < firstKnown) return null;
      return ring.slice(number + 1 - firstKnown);
    },
    loadTotals: totals.loads,
    raisedCounts: () => totals.raised,
    onEvent: (listener) => listen(listeners, listener),
    onTicked: (listener) => listen(tickListeners, listener),
  };
}

function listen<Listener>(listeners: Set<Listener>, listener: Listener): () => void {
  listeners.add(listener);
  return () => void listeners.delete(listener);
}

function newTotal(settings: LoadSettings) {
  return { settings, startCount: 0, runMs: 0, stage: 0 };
}

function createTotals({ control }: SiteSettings) {
  let loads = control.loads.map(newTotal);
  const raised = new Map<EventView["code"], number>();
  let noted: number | null = null;
  return {
    raised,
    loads: () =>
      loads.map(({ settings, stage, startCount, runMs }) => ({
        id: settings.id,
        decidedPowerW: stagePowerW(settings, stage),
        startCount,
        runMs,
      })),
    refit(next: SiteSettings): void {
      loads = next.control.loads.map((settings) => {
        const before = loads.find((load) => load.settings.id === settings.id);
        return { ...(before ?? newTotal(settings)), settings };
      });
    },
    /** A stage holds from the tick that decided it to the next. */
    run({ loadStages }: Decision, nowMs: number): void {
      const sinceMs = noted === null ? 0 : nowMs - noted;
      noted = nowMs;
      for (const [index, load] of loads.entries()) {
        const stage = loadStages[index] ?? 0;
        if (load.stage > 0) load.runMs += sinceMs;
        if (load.stage === 0 && stage > 0) load.startCount += 1;
        load.stage = stage;
      }
    },
    count({ change, code }: EventView): void {
      if (change === "raised") raised.set(code, (raised.get(code) ?? 0) + 1);
    },
  };
}

/** An alarm of the site is no error of the program; what is over is good news, however grave. */
function logEvent(log: Log, { about, change, at: _at, ...fields }: EventView): void {
  const level = change === "cleared" || fields.severity === "info" ? "info" : "warn";
  log[level](fields, `${about} ${change}`);
}
