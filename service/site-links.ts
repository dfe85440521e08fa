/**
 * All connections of one site to its broker: one for telemetry, whose will says that we are gone,
 * and those for commands. Losing any of them counts as losing the broker.
 */
import type { SiteSettings } from "../config/site-settings.ts";
import type { BrokerAccess } from "./broker/access.ts";
import { createConnection } from "./broker/connection.ts";
import type { BrokerConnection, IncomingMessage } from "./broker/connection.ts";
import { filesOpenToAll } from "./broker/credentials.ts";
import { createSubscription } from "./broker/subscription.ts";
import type { Subscription } from "./broker/subscription.ts";
import type { Clock } from "./clock.ts";
import type { Log } from "./log.ts";
import { statusPayload, statusTopic } from "./publishing.ts";
import type { Mode } from "./state-view.ts";
import type { CommandLink } from "./switching/links.ts";
import { planLinks } from "./switching/links.ts";
import type { LinkPlan } from "./switching/links.ts";

export interface SiteLinksOptions {
  readonly site: SiteSettings;
  readonly access: BrokerAccess;
  readonly mode: Mode;
  readonly isTimeSimulated: boolean;
  readonly topics: readonly string[];
  /** Real time: back-off and waits of the network don't follow a scaled clock. */
  readonly clock: Clock;
  readonly log: Log;
  readonly handlers: {
    readonly onMessage: (message: IncomingMessage) => void;
    readonly onTelemetryUp: () => void;
    readonly onTelemetryDown: () => void;
    readonly onCommandUp: (clientId: string) => void;
    readonly onCommandDown: (clientId: string) => void;
    readonly onFault: (error: unknown) => void;
  };
}

export interface SiteLinks {
  readonly telemetry: BrokerConnection;
  /** Empty in shadow mode: not even a will may command anything. */
  commands(): readonly CommandLink[];
  start(): Promise<void>;
  /**
   * Other topics and actuators from now on. Connections that are still needed stay up.
   *
   * @returns To be called when those that go have said their last word: ends them, starts new ones.
   */
  refit(site: SiteSettings, topics: readonly string[]): () => Promise<void>;
  /** All are up now. */
  areUp(): boolean;
  /** The broker has answered the subscription to telemetry. */
  isListening(): boolean;
  /** All are up and have been since this was last asked. */
  haveStayedUp(): boolean;
  /** Resolves when all are up, or after `limitMs`. */
  waitUntilUp(limitMs: number): Promise<void>;
  losses(): number;
  /** What is wrong between us and the broker, each thing once. */
  troubles(): readonly string[];
  end(): Promise<void>;
}

/** A connection that joins a running service has this long before it counts as lost. [ms] */
const JOINS_WITHIN_MS = 5_000;

interface CommandLine {
  readonly plan: LinkPlan;
  readonly connection: BrokerConnection;
}

/** Whether all connections are up, and whether any has been lost meanwhile. */
interface Watch {
  readonly telemetry: () => BrokerConnection;
  lines: readonly CommandLine[];
  readonly upWaiters: Set<() => void>;
  hasBeenLost: boolean;
  /** New lines of a running service, and until when they are waited for. [ms] */
  readonly joinsUntilMs: Map<BrokerConnection, number>;
  readonly nowMs: () => number;
}

export function createSiteLinks(options: SiteLinksOptions): SiteLinks {
  const watch: Watch = {
    telemetry: () => telemetry,
    lines: [],
    upWaiters: new Set(),
    hasBeenLost: false,
    joinsUntilMs: new Map(),
    nowMs: () => options.clock.monotonicMs(),
  };
  const subscription = createSubscription(options);
  const telemetry = createTelemetryLink(options, watch, subscription);
  watch.lines = linesFor(options.site, options, watch);
  return {
    telemetry,
    commands: () =>
      watch.lines.map(({ plan, connection }) => ({
        plan,
        publish: (command) => connection.publish(command),
      })),
    refit(site, topics) {
      subscription.replace(topics);
      const before = watch.lines;
      watch.lines = linesFor(site, options, watch);
      return () => exchange(before, options, watch);
    },
    async start() {
      for (const connection of connectionsOf(watch)) await connection.start();
      for (const file of await filesOpenToAll(options.access)) {
        options.log.warn({ file }, "everybody on this machine can read this secret: chmod o-r");
      }
    },
    areUp: () => areUp(watch),
    isListening: () => subscription.isAnswered(),
    haveStayedUp() {
      const haveStayed = !watch.hasBeenLost && areUp(watch);
      watch.hasBeenLost = false;
      return haveStayed;
    },
    waitUntilUp: (limitMs) =>
      new Promise((resolve) => {
        if (areUp(watch)) {
          resolve();
          return;
        }
        const cancel = options.clock.schedule(limitMs, resolve);
        watch.upWaiters.add(() => {
          cancel();
          resolve();
        });
      }),
    losses: () => connectionsOf(watch).reduce((sum, connection) => sum + connection.losses(), 0),
    troubles() {
      const down = connectionsOf(watch).map((connection) => connection.trouble());
      const all = [...down, subscription.trouble()].filter((trouble) => trouble !== null);
      return [...new Set(all)];
    },
    async end() {
      subscription.down();
      await Promise.all(connectionsOf(watch).map((connection) => connection.end()));
    },
  };
}

/** The lines of a site's actuators: those there are, where client and will are the same. */
function linesFor(
  site: SiteSettings,
  options: SiteLinksOptions,
  watch: Watch,
): readonly CommandLine[] {
  const plans = options.mode === "shadow" ? [] : planLinks(site.id, site.actuators);
  return plans.map((plan) => {
    const same = watch.lines.find(
      (line) =>
        line.plan.clientId === plan.clientId &&
        JSON.stringify(line.plan.will) === JSON.stringify(plan.will),
    );
    const connection = same?.connection ?? createCommandLink(options, watch, plan);
    return { plan, connection };
  });
}

/** Ends the lines that are no longer there, then starts the new ones: a client has one line. */
async function exchange(
  before: readonly CommandLine[],
  { handlers }: SiteLinksOptions,
  watch: Watch,
): Promise<void> {
  const connections = watch.lines.map(({ connection }) => connection);
  const known = new Set(before.map(({ connection }) => connection));
  const joining = connections.filter((connection) => !known.has(connection));
  watch.joinsUntilMs.clear();
  for (const line of joining) watch.joinsUntilMs.set(line, watch.nowMs() + JOINS_WITHIN_MS);
  const leaving = before.filter(({ connection }) => !connections.includes(connection));
  for (const { plan } of leaving) handlers.onCommandDown(plan.clientId);
  await Promise.all(leaving.map(({ connection }) => connection.end()));
  for (const connection of joining) await connection.start();
}

function createTelemetryLink(
  options: SiteLinksOptions,
  watch: Watch,
  subscription: Subscription,
): BrokerConnection {
  const { site, handlers } = options;
  const telemetry = createConnection({
    ...connectionBase(options),
    clientId: `${site.id}-telemetry`,
    will: {
      topic: statusTopic(site.id),
      payload: statusPayload("offline", options),
      isRetained: true,
    },
    handlers: {
      onUp: () => {
        subscription.up(telemetry);
        handlers.onTelemetryUp();
        wentUp(watch);
      },
      onDown: () => {
        watch.hasBeenLost = true;
        subscription.down();
        handlers.onTelemetryDown();
      },
      onMessage: handlers.onMessage,
      onFault: handlers.onFault,
    },
  });
  return telemetry;
}

function createCommandLink(
  options: SiteLinksOptions,
  watch: Watch,
  plan: LinkPlan,
): BrokerConnection {
  const { handlers } = options;
  return createConnection({
    ...connectionBase(options),
    clientId: plan.clientId,
    will: plan.will,
    handlers: {
      onUp: () => {
        handlers.onCommandUp(plan.clientId);
        wentUp(watch);
      },
      onDown: () => {
        watch.hasBeenLost = true;
        handlers.onCommandDown(plan.clientId);
      },
      onMessage: () => undefined,
      onFault: handlers.onFault,
    },
  });
}

function connectionsOf({ telemetry, lines }: Watch): readonly BrokerConnection[] {
  return [telemetry(), ...lines.map(({ connection }) => connection)];
}

function areUp(watch: Watch): boolean {
  return connectionsOf(watch).every(
    (connection) => connection.isUp() || watch.nowMs() < (watch.joinsUntilMs.get(connection) ?? 0),
  );
}

function wentUp(watch: Watch): void {
  if (!areUp(watch)) return;
  for (const resolve of watch.upWaiters) resolve();
  watch.upWaiters.clear();
}

function connectionBase({ access, clock, log }: SiteLinksOptions) {
  return { access, clock, log };
}
