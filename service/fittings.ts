/** What a daemon is fitted with for one settings file: exchanged as a whole when that changes. */
import { createLocalCalendar } from "../config/local-calendar.ts";
import type { LocalCalendar } from "../config/local-calendar.ts";
import type { SiteSettings } from "../config/site-settings.ts";
import type { Clock } from "./clock.ts";
import { createGuidanceDesk } from "./guidance-desk.ts";
import type { GuidanceDesk } from "./guidance-desk.ts";
import type { RootLog } from "./log.ts";
import { createPublisher } from "./publishing.ts";
import type { Publisher, PublisherOptions } from "./publishing.ts";
import { createRequestDesk } from "./request-desk.ts";
import type { RequestDesk } from "./request-desk.ts";
import { createRequests } from "./requests.ts";
import type { Requests } from "./requests.ts";
import { createSiteTelemetry } from "./site-telemetry.ts";
import type { Mode } from "./state-view.ts";
import type { LatestTable } from "./telemetry/latest.ts";

export interface Fittings {
  readonly site: SiteSettings;
  readonly localTime: LocalCalendar;
  readonly table: LatestTable;
  readonly publisher: Publisher;
  readonly requests: Requests;
  readonly desk: RequestDesk;
  readonly guidance: GuidanceDesk;
}

export interface FittingOptions {
  readonly clock: Clock;
  readonly mode: Mode;
  readonly log: RootLog;
  readonly publish: PublisherOptions["publish"];
  /** A tick should not wait. */
  readonly requestTick: () => void;
  /** Reads the settings file again; null: nobody can. */
  readonly reload: (() => unknown) | null;
  /** Days of a record in place of the site's own. */
  readonly recordedTime: LocalCalendar | null;
  /** What the run before has left of how often good times came true. */
  readonly timesBefore: unknown;
}

/** @param before - What was there; what it knows of unchanged signals is taken over. */
export function fit(
  site: SiteSettings,
  options: FittingOptions,
  before: Fittings | null,
): Fittings {
  const { clock, mode, log, publish, requestTick, recordedTime, reload } = options;
  const table = createSiteTelemetry({
    site,
    clock,
    log,
    requestTick,
    ...(recordedTime === null ? {} : { recordedTime }),
  });
  if (before !== null) table.takeOver(before.table);
  const requests = createRequests(site.control, requestTick);
  const localTime = recordedTime ?? createLocalCalendar(site.timeZone);
  return {
    site,
    localTime,
    table,
    publisher: createPublisher({
      site,
      mode,
      isTimeSimulated: recordedTime !== null,
      clock,
      publish,
    }),
    requests,
    desk: createRequestDesk({
      site,
      requests,
      reload,
      countsBefore: before?.desk.counts() ?? null,
    }),
    guidance: createGuidanceDesk({
      site,
      localTime,
      clock,
      timesBefore: before === null ? options.timesBefore : before.guidance.times(),
    }),
  };
}

/** Everything to listen to. */
export function topicsOf({ table, desk }: Fittings): readonly string[] {
  return [...table.topics, ...desk.topics];
}
