/**
 * The history of one run. New settings begin a new journal, so that each stretch of it stands
 * beside the settings that decided in it; ticks while one is closed and the next is opened are not
 * recorded.
 */
import type { SiteSettings } from "../config/site-settings.ts";
import type { Clock } from "./clock.ts";
import { createHistory } from "./history/history.ts";
import type { History } from "./history/history.ts";
import type { SavedMemory } from "./history/memory-file.ts";
import type { FiguresToKeep, SentCommand, Tick } from "./history/messages.ts";
import type { Log } from "./log.ts";

export interface SiteHistory {
  /** @returns What the last run remembered; null if there is none. */
  readonly start: () => Promise<SavedMemory | null>;
  readonly record: (tick: Tick) => void;
  readonly recordCommand: (command: SentCommand) => void;
  readonly keepFigures: (figures: FiguresToKeep) => void;
  readonly keepTimes: (times: unknown) => void;
  /** @returns True if all that was recorded is in the files. */
  readonly flush: () => Promise<boolean>;
  readonly isBehind: () => boolean;
  readonly refit: (site: SiteSettings) => void;
  /** Writes what it can; nothing is recorded after this. */
  readonly close: () => Promise<void>;
}

export function createSiteHistory(options: {
  readonly site: SiteSettings;
  readonly version: string;
  readonly clock: Clock;
  readonly log: Log;
}): SiteHistory {
  const { version: codeVersion, clock, log } = options;
  const open = (site: SiteSettings): History => createHistory({ site, codeVersion, clock, log });
  let current: History | null = open(options.site);
  let isClosed = false;
  /** Histories follow one another: two must not write into one folder. */
  let turn: Promise<void> = Promise.resolve();

  const exchange = async (before: History | null, site: SiteSettings): Promise<void> => {
    await before?.close();
    if (isClosed) return;
    const next = open(site);
    await next.start();
    current = next;
  };
  return {
    start: () => current?.start() ?? Promise.resolve(null),
    record: (tick) => current?.record(tick),
    recordCommand: (command) => current?.recordCommand(command),
    keepFigures: (figures) => current?.keepFigures(figures),
    keepTimes: (times) => current?.keepTimes(times),
    flush: () => current?.flush() ?? Promise.resolve(false),
    isBehind: () => current?.isBehind() ?? false,
    refit(site) {
      const before = current;
      current = null;
      turn = turn.then(() => exchange(before, site));
    },
    async close() {
      isClosed = true;
      await turn;
      await current?.close();
    },
  };
}
