/** What a serving process keeps, and what it can be asked of the past. */
import { join } from "node:path";
import type { SiteSettings } from "../../config/site-settings.ts";
import { systemClock } from "../clock.ts";
import type { Clock } from "../clock.ts";
import { createDayClose } from "../day-close.ts";
import type { DayClose } from "../day-close.ts";
import type { Asker } from "../history/reading/ask.ts";
import type { SavedMemory } from "../history/memory-file.ts";
import type { Log } from "../log.ts";
import type { PastDesk } from "../past-desk.ts";
import type { SiteHistory } from "../site-history.ts";
import type { WhatIfDesk } from "../what-if-desk.ts";

export interface KeptHistory {
  readonly history: SiteHistory;
  readonly asker: Asker;
  readonly past: PastDesk;
  readonly whatIf: WhatIfDesk;
  /** What the run before remembered; null: there was none. */
  readonly restored: SavedMemory | null;
  readonly note: DayClose["note"];
}

export async function keep(options: {
  readonly site: SiteSettings;
  /** As last read. */
  readonly current: () => SiteSettings;
  /** Where these settings are, and what the command line sets over them. */
  readonly path: string;
  readonly overrides: readonly string[];
  readonly version: string;
  readonly clock: Clock;
  readonly log: Log;
}): Promise<KeptHistory> {
  const { createSiteHistory } = await import("../site-history.ts");
  const { createAsker } = await import("../history/reading/ask.ts");
  const { createPastDesk } = await import("../past-desk.ts");
  const { DATABASE_FILE } = await import("../history/scribe.ts");
  const { dayThreads } = await import("../day-thread.ts");
  const { createWhatIfDesk } = await import("../what-if-desk.ts");
  const { site, current, clock, log } = options;
  const history = createSiteHistory(options);
  const restored = await history.start();
  const asker = createAsker({
    path: join(site.history.folder, DATABASE_FILE),
    // Whoever asks waits in real time.
    clock: systemClock,
    onFailure: (reason) => log.warn({ reason }, "the history could not be read"),
  });
  const past = createPastDesk({ site: current, clock, asker });
  const whatIf = createWhatIfDesk({
    path: options.path,
    overrides: options.overrides,
    start: dayThreads({
      program: new URL("./what-if-worker.js", import.meta.url),
      clock: systemClock,
    }),
    log,
  });
  const dayClose = createDayClose({
    site: current,
    asker,
    flush: history.flush,
    keep: history.keepFigures,
  });
  return { history, asker, past, whatIf, restored, note: dayClose.note };
}
