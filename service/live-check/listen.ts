/**
 * Listens to a site's telemetry as its service would, and changes nothing on the broker: it
 * publishes nothing, has a name of its own and no last will. A second connection hears whatever
 * else is said, so that a wrong topic can be told from a silent device; where the broker does not
 * allow that, the first one does without.
 */
import type { SiteSettings } from "../../config/site-settings.ts";
import { isCoveredByAny } from "../../config/topic-filters.ts";
import type { BrokerAccess } from "../broker/access.ts";
import { createConnection } from "../broker/connection.ts";
import type { BrokerConnection, IncomingMessage } from "../broker/connection.ts";
import type { Clock } from "../clock.ts";
import type { Observation } from "../control/observation.ts";
import type { RootLog } from "../log.ts";
import { createSiteTelemetry } from "../site-telemetry.ts";
import type { LatestTable } from "../telemetry/latest.ts";
import { readObservation } from "../telemetry/observe.ts";
import { within } from "../within.ts";
import { liveSignal } from "./signal-finding.ts";
import type { Heard, LiveSignal } from "./signal-finding.ts";
import { sumDoubt } from "./sum-doubt.ts";
import type { SumDoubt } from "./sum-doubt.ts";
import { createTraffic } from "./traffic.ts";

export interface LiveReport {
  readonly broker: string;
  readonly listenedS: number;
  readonly signals: readonly LiveSignal[];
  /** null: the powers add up, or cannot be compared. */
  readonly sum: SumDoubt | null;
}

export interface ListenOptions {
  readonly site: SiteSettings;
  readonly access: BrokerAccess;
  readonly clock: Clock;
  readonly log: RootLog;
  /** [ms] */
  readonly forMs: number;
  /** Tells this run's connections from those of another one. */
  readonly runId: string;
  readonly onProgress: (thereCount: number, mappedCount: number) => void;
}

/** A broker on the local network answers in far less. [ms] */
const CONNECT_WITHIN_MS = 5_000;
const LOOK_EVERY_MS = 250;
/** Once all are there: to see how often each comes. [ms] */
const PACE_MS = 5_000;

/** @throws Error if the broker cannot be reached. */
export async function listenLive(options: ListenOptions): Promise<LiveReport> {
  const { site, access, clock } = options;
  const table = createSiteTelemetry({ ...options, requestTick: () => undefined });
  const own = createTraffic();
  const others = createTraffic();
  const ear = createEar(options, "check", (message) => {
    own.note(message, clock.monotonicMs());
    table.receive(message);
  });
  const wide = createEar(options, "check-all", (message) => {
    if (!isCoveredByAny(message.topic, [...table.topics, `bywash/${site.id}/#`])) {
      others.note(message, clock.monotonicMs());
    }
  });
  try {
    const refused = await ear.open(table.topics);
    if (refused === null) throw new Error(unreachable(access, ear.connection.trouble()));
    const hidden = await wide.open(["#"]);
    const heard = {
      control: site.control,
      traffic: own,
      username: access.username,
      refused: new Set(refused),
    };
    const startMs = clock.monotonicMs();
    await untilHeard(options, table, heard);
    const isHidden = hidden === null || hidden.length > 0;
    const find = { ...heard, others: isHidden ? null : others.topics() };
    return {
      broker: access.url.replace(/\/\/[^@/]*@/u, "//…@"),
      listenedS: Math.round((clock.monotonicMs() - startMs) / 100) / 10,
      signals: table.views().map((view) => liveSignal(view, find)),
      sum: sumDoubt(observed(table, options), site.control),
    };
  } finally {
    await Promise.all([ear.connection.end(), wide.connection.end()]);
  }
}

interface Ear {
  readonly connection: BrokerConnection;
  /** @returns The topics that were refused; null: the broker was not reached, or did not answer. */
  readonly open: (topics: readonly string[]) => Promise<readonly string[] | null>;
}

function createEar(
  { site, access, clock, log, runId }: ListenOptions,
  name: string,
  onMessage: (message: IncomingMessage) => void,
): Ear {
  let whenUp = (): void => undefined;
  const isUp = new Promise<true>((resolve) => (whenUp = () => resolve(true)));
  let wanted: readonly string[] = [];
  const connection = createConnection({
    access,
    clock,
    log: log.part("broker"),
    clientId: `${site.id}-${name}-${runId}`,
    will: null,
    handlers: {
      onUp() {
        whenUp();
        // After a loss, too; the first time the answer is waited for below.
        if (wanted.length > 0) void connection.subscribe(wanted);
      },
      onDown: () => undefined,
      onMessage,
      onFault(error) {
        throw error;
      },
    },
  });
  return {
    connection,
    async open(topics) {
      await connection.start();
      if ((await within(CONNECT_WITHIN_MS, isUp)) !== true) return null;
      wanted = topics;
      return within(CONNECT_WITHIN_MS, connection.subscribe(topics));
    },
  };
}

/** Until the time is over, or all are there and have been for long enough to know their pace. */
function untilHeard(
  { clock, forMs, onProgress }: ListenOptions,
  table: LatestTable,
  heard: Omit<Heard, "others">,
): Promise<void> {
  const endMs = clock.monotonicMs() + forMs;
  let thereSinceMs: number | null = null;
  return new Promise((resolve) => {
    const look = (): void => {
      const nowMs = clock.monotonicMs();
      const signals = table.views().map((view) => liveSignal(view, { ...heard, others: [] }));
      const fine = signals.filter(({ isFine }) => isFine);
      onProgress(fine.length, signals.length);
      thereSinceMs = fine.length === signals.length ? (thereSinceMs ?? nowMs) : null;
      const isPaced = thereSinceMs !== null && nowMs - thereSinceMs >= PACE_MS;
      if (isPaced || nowMs >= endMs) resolve();
      else clock.schedule(LOOK_EVERY_MS, look);
    };
    look();
  });
}

function observed(table: LatestTable, { site, clock }: ListenOptions): Observation {
  return readObservation(table, site.control, {
    monotonicMs: clock.monotonicMs(),
    wallMs: clock.wallMs(),
    isWallClockPlausible: true,
    localDay: 0,
    localMinute: 0,
    clockChangeMs: 0,
    clockShiftMin: 0,
    isBrokerConnected: true,
    loadRequest: () => ({ request: "none", forMs: 0 }),
    panelRequest: () => "none",
    unlearn: "none",
  });
}

function unreachable({ url }: BrokerAccess, trouble: string | null): string {
  const where = url.replace(/\/\/[^@/]*@/u, "//…@");
  return `the broker at ${where} cannot be heard: ${trouble ?? "no answer"}`;
}
