/**
 * When a local day is over, what it came to is written beside its minutes, so that a year can be
 * looked at without reading each of them. What could not be written is worked out when asked for.
 */
import { createLocalCalendar } from "../config/local-calendar.ts";
import type { SiteSettings } from "../config/site-settings.ts";
import type { Observation } from "./control/observation.ts";
import type { FiguresToKeep } from "./history/messages.ts";
import type { Asker } from "./history/reading/ask.ts";
import { dayStretch } from "./local-days.ts";

export interface DayClose {
  /** Once a tick; never waits. */
  readonly note: (time: Pick<Observation, "localDay" | "isWallClockPlausible">) => void;
}

export function createDayClose(options: {
  readonly site: () => SiteSettings;
  readonly asker: Pick<Asker, "ask">;
  /** Its last minutes are to be in the database before they are read. */
  readonly flush: () => Promise<boolean>;
  readonly keep: (figures: FiguresToKeep) => void;
}): DayClose {
  const { site, asker, flush, keep } = options;
  let today: number | null = null;

  const close = async (localDay: number): Promise<void> => {
    if (!(await flush())) return;
    const { timeZone, control } = site();
    const day = dayStretch(localDay, createLocalCalendar(timeZone));
    const answer = await asker.ask({ kind: "figures", days: [day], sources: control.sources });
    if (answer?.kind !== "figures") return;
    const [figures = null] = answer.figures;
    if (figures !== null) keep({ localDay, fromMs: day.fromMs, body: JSON.stringify(figures) });
  };

  return {
    note({ localDay, isWallClockPlausible }) {
      if (!isWallClockPlausible || localDay === today) return;
      // A clock that goes back opens no day again; one that leaps leaves the days between empty.
      const isNext = today === null || localDay > today;
      today = localDay;
      // After a start, yesterday may have ended while nobody was there.
      if (isNext) void close(localDay - 1);
    },
  };
}
