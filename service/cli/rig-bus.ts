/** The simulated shed's own connection to a broker, as its devices would have one. */
import type { SiteSettings } from "../../config/site-settings.ts";
import { isCovered } from "../../config/topic-filters.ts";
import type { Bus, BusMessage } from "../../simulator/rig.ts";
import type { BrokerAccess } from "../broker/access.ts";
import { createConnection } from "../broker/connection.ts";
import type { BrokerConnection, ConnectionOptions } from "../broker/connection.ts";
import { systemClock } from "../clock.ts";
import { UserError } from "../errors.ts";
import type { Log } from "../log.ts";
import { statusTopic } from "../publishing.ts";
import { within } from "../within.ts";

export interface ShedBus {
  readonly bus: Bus;
  /** @throws UserError if the broker does not let it in. */
  open(): Promise<void>;
  close(): Promise<void>;
}

interface Listener {
  readonly filters: readonly string[];
  readonly handler: (message: BusMessage) => void;
}

/** A broker on the local network answers in far less. [ms] */
const CONNECT_WITHIN_MS = 10_000;

export function createShedBus(options: {
  readonly access: BrokerAccess;
  readonly clientId: string;
  readonly will: ConnectionOptions["will"];
  readonly log: Log;
}): ShedBus {
  const { access } = options;
  const listeners: Listener[] = [];
  let whenUp = (): void => undefined;
  const isUp = new Promise<true>((resolve) => {
    whenUp = () => resolve(true);
  });
  const connection: BrokerConnection = createConnection({
    ...options,
    clock: systemClock,
    handlers: {
      onUp: () => whenUp(),
      onDown: () => undefined,
      onMessage(message) {
        for (const { filters, handler } of listeners) {
          if (filters.some((filter) => isCovered(message.topic, filter))) handler(message);
        }
      },
      onFault(error) {
        throw error;
      },
    },
  });
  return {
    bus: {
      publish(topic, payload, { qos, isRetained }) {
        void connection.publish({ topic, payload, qos, isRetained, messageExpiryS: null });
      },
      subscribe(wanted, handler) {
        listeners.push({ filters: wanted, handler });
      },
    },
    async open() {
      await connection.start();
      if ((await within(CONNECT_WITHIN_MS, isUp)) !== true) {
        throw unreachable(access.url, connection.trouble());
      }
      const filters = new Set(listeners.flatMap((listener) => listener.filters));
      const refused = await connection.subscribe([...filters]);
      if (refused === null || refused.length > 0) {
        throw unreachable(access.url, `it refuses ${refused?.join(", ") ?? "the connection"}`);
      }
    },
    close: () => connection.end(),
  };
}

/**
 * Listens before anything is said: a simulated shed beside a real one would lie to its service,
 * and a second service would switch its loads.
 *
 * @throws UserError if a service or a shed of these settings is there already.
 */
export async function refuseRealShed(
  access: BrokerAccess,
  site: SiteSettings,
  given: { readonly listenMs: number; readonly log: Log },
): Promise<void> {
  const clientId = `rig-ear-${site.id}`;
  const ear = createShedBus({ access, clientId, will: null, log: given.log });
  const shed = site.telemetry.flatMap(({ sensors }) =>
    sensors.flatMap(({ feeds }) => feeds.map(({ topic }) => topic)),
  );
  const service = statusTopic(site.id);
  const heard: string[] = [];
  const topics = [...shed, ...site.actuators.map(({ topic }) => topic), service];
  let stopListening = (): void => undefined;
  const isHeard = new Promise<void>((resolve) => (stopListening = resolve));
  ear.bus.subscribe([...new Set(topics)], ({ topic, payload }) => {
    if (topic === service && hasLeft(new TextDecoder().decode(payload))) return;
    heard.push(topic);
    stopListening();
  });
  try {
    await ear.open();
    await within(given.listenMs, isHeard);
  } finally {
    await ear.close();
  }
  const [first] = heard;
  if (first === undefined) return;
  throw new UserError([
    {
      code: "rig-shed-present",
      where: access.url,
      found: `a message on ${first}`,
      expected: "a broker on which no shed and no service of these settings lives",
      suggestion: "a broker of its own, or other topics in the settings of the rig",
    },
  ]);
}

/** A service's last word stays at the broker; nothing at all takes it away. */
function hasLeft(status: string): boolean {
  return status === "" || /"status":"offline"/u.test(status);
}

function unreachable(where: string, found: string | null): UserError {
  const expected = "a broker that lets the simulated shed in";
  return new UserError([{ code: "broker-closed", where, found: found ?? "no answer", expected }]);
}
