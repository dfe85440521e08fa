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
import type { CommandLink } from "./switching/actuators.ts";
import { planLinks } from "./switching/links.ts";
import type { LinkPlan } from "./switching/links.ts";

export interface SiteLinksOptions {
  readonly site: SiteSettings;
  readonly access: BrokerAccess;
  readonly mode: Mode;
  readonly topics: readonly string[];
  /** Real time: back-off and waits of the network don't follow a scaled clock. */
  readonly clock: Clock;
  readonly log: Log;
  readonly handlers: {
    readonly onMessage: (message: IncomingMessage) => void;
    readonly onTelemetryUp: () => void;
    readonly onTelemetryDown: () => void;
    readonly onCommandUp: (index: number) => void;
    readonly onCommandDown: (index: number) => void;
    readonly onFault: (error: unknown) => void;
  };
}

export interface SiteLinks {
  readonly telemetry: BrokerConnection;
  /** Empty in shadow mode: not even a will may command anything. */
  readonly commands: readonly CommandLink[];
  start(): Promise<void>;
  /** All are up now. */
  areUp(): boolean;
  /** All are up and have been since this was last asked. */
  haveStayedUp(): boolean;
  /** Resolves when all are up, or after `limitMs`. */
  waitUntilUp(limitMs: number): Promise<void>;
  losses(): number;
  /** What is wrong between us and the broker, each thing once. */
  troubles(): readonly string[];
  end(): Promise<void>;
}

/** Whether all connections are up, and whether any has been lost meanwhile. */
interface Watch {
  readonly connections: BrokerConnection[];
  readonly upWaiters: Set<() => void>;
  hasBeenLost: boolean;
}

export function createSiteLinks(options: SiteLinksOptions): SiteLinks {
  const watch: Watch = { connections: [], upWaiters: new Set(), hasBeenLost: false };
  const subscription = createSubscription(options);
  const telemetry = createTelemetryLink(options, watch, subscription);
  watch.connections.push(telemetry);
  const plans = options.mode === "shadow" ? [] : planLinks(options.site.id, options.site.actuators);
  const commands = plans.map((plan, index): CommandLink => {
    const connection = createCommandLink(options, watch, { plan, index });
    watch.connections.push(connection);
    return { plan, publish: (command) => connection.publish(command) };
  });
  return {
    telemetry,
    commands,
    async start() {
      for (const connection of watch.connections) await connection.start();
      for (const file of await filesOpenToAll(options.access)) {
        options.log.warn({ file }, "everybody on this machine can read this secret: chmod o-r");
      }
    },
    areUp: () => areUp(watch),
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
    losses: () => watch.connections.reduce((sum, connection) => sum + connection.losses(), 0),
    troubles() {
      const down = watch.connections.map((connection) => connection.trouble());
      const all = [...down, subscription.trouble()].filter((trouble) => trouble !== null);
      return [...new Set(all)];
    },
    async end() {
      subscription.down();
      await Promise.all(watch.connections.map((connection) => connection.end()));
    },
  };
}

function createTelemetryLink(
  options: SiteLinksOptions,
  watch: Watch,
  subscription: Subscription,
): BrokerConnection {
  const { site, mode, handlers } = options;
  const telemetry = createConnection({
    ...connectionBase(options),
    clientId: `${site.id}-telemetry`,
    will: {
      topic: statusTopic(site.id),
      payload: statusPayload("offline", mode),
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
  { plan, index }: { readonly plan: LinkPlan; readonly index: number },
): BrokerConnection {
  const { handlers } = options;
  return createConnection({
    ...connectionBase(options),
    clientId: plan.clientId,
    will: plan.will,
    handlers: {
      onUp: () => {
        handlers.onCommandUp(index);
        wentUp(watch);
      },
      onDown: () => {
        watch.hasBeenLost = true;
        handlers.onCommandDown(index);
      },
      onMessage: () => undefined,
      onFault: handlers.onFault,
    },
  });
}

function areUp({ connections }: Watch): boolean {
  return connections.every((connection) => connection.isUp());
}

function wentUp(watch: Watch): void {
  if (!areUp(watch)) return;
  for (const resolve of watch.upWaiters) resolve();
  watch.upWaiters.clear();
}

function connectionBase({ access, clock, log }: SiteLinksOptions) {
  return { access, clock, log };
}
