/** Where the clients of the embedded broker arrive, are gauged, and are handed to its library. */
import type { Aedes, Client } from "aedes";
import type { Server, Socket } from "node:net";
import type { EmbeddedBrokerSettings } from "../../config/site-settings.ts";
import { systemClock } from "../clock.ts";
import type { Log } from "../log.ts";
import { createRules } from "./embedded-rules.ts";
import type { Rules, Visitor } from "./embedded-rules.ts";
import { createEmbeddedUsers } from "./embedded-users.ts";
import { guardStream } from "./guarded-stream.ts";
import { createPacketGauge } from "./packet-gauge.ts";
import { createRefusals } from "./refusals.ts";
import type { NoteRefusal } from "./refusals.ts";

/** Time for the TLS handshake, and again for the first packet. [ms] */
export const CONNECT_WITHIN_MS = 5_000;
/** A client has to say something at least this often. [s] */
const KEEP_ALIVE_MAX_S = 300;
const CONNECTIONS_MAX = 200;
/** Connections of one address that have not said who they are yet. */
const STRANGERS_MAX = 10;
const STRANGER_LIMITS = { packetBytesMax: 16_384, packetsPerSecondMax: 20 };
/** Telemetry is small; a busy site has some hundred messages a second, over all devices. */
const CLIENT_LIMITS = { packetBytesMax: 65_536, packetsPerSecondMax: 2_000 };

export interface Hall {
  readonly service: { readonly username: string; readonly password: string };
  receive(server: Server, how: { readonly isInner: boolean }): void;
  close(servers: readonly Server[]): Promise<void>;
}

/** The library with our rules around it, and every connection that it has. */
export async function openHall({ users: listed }: EmbeddedBrokerSettings, log: Log): Promise<Hall> {
  const users = createEmbeddedUsers(listed);
  const refuse = createRefusals(systemClock, log);
  const visitors = new WeakMap<Client, Visitor>();
  const rules = createRules({ users, visitors, clock: systemClock, refuse });
  const aedes = await createLibrary(rules, visitors);
  const sockets = new Set<Socket>();
  const strangers = createStrangers(refuse);

  const greet = (socket: Socket, isInner: boolean): void => {
    socket.setNoDelay(true);
    const address = socket.remoteAddress ?? "";
    const gauge = createPacketGauge(systemClock, STRANGER_LIMITS);
    const stream = guardStream(socket, gauge, (finding) => {
      refuse(finding, { address });
    });
    const client = aedes.handle(stream);
    stream.on("close", () => rules.left(client));
    visitors.set(client, {
      isInner,
      address,
      onAdmitted(identity) {
        strangers.forget(socket);
        if (identity.kind === "service") gauge.trust();
        else gauge.setLimits(CLIENT_LIMITS);
      },
      identity: null,
      willTopic: null,
      filters: new Set(),
    });
  };

  return {
    service: users.service,
    receive(server, { isInner }) {
      server.maxConnections = CONNECTIONS_MAX;
      server.on("drop", () => refuse("too-many-connections", {}));
      server.on("connection", (socket: Socket) => {
        sockets.add(socket);
        socket.on("close", () => sockets.delete(socket));
        socket.on("error", () => socket.destroy());
        if (!isInner) strangers.count(socket);
      });
      server.on("tlsClientError", (error: Error) => refuse("tls", { reason: error.message }));
      const isTls = "setSecureContext" in server;
      server.on(isTls ? "secureConnection" : "connection", (socket: Socket) => {
        if (!socket.destroyed) greet(socket, isInner);
      });
    },
    async close(servers) {
      await new Promise<void>((resolve) => {
        aedes.close(() => resolve());
      });
      for (const socket of sockets) socket.destroy();
      for (const server of servers.filter(({ listening }) => listening)) {
        await new Promise<void>((resolve) => {
          server.close(() => resolve());
        });
      }
    },
  };
}

async function createLibrary(
  { preConnect, authenticate, authorizePublish, authorizeSubscribe }: Rules,
  visitors: WeakMap<Client, Visitor>,
): Promise<Aedes> {
  const { Aedes } = await import("aedes");
  const aedes = await Aedes.createBroker({
    preConnect,
    authenticate,
    authorizePublish,
    authorizeSubscribe,
    connectTimeout: CONNECT_WITHIN_MS,
    keepaliveLimit: KEEP_ALIVE_MAX_S,
    maxTopicLevels: 20,
    maxInflightInbound: 100,
  });
  // A client that breaks the protocol is dropped by the library; the events need a listener.
  aedes.on("clientError", () => undefined);
  aedes.on("connectionError", () => undefined);
  aedes.on("unsubscribe", (filters, client) => {
    for (const filter of filters) visitors.get(client)?.filters.delete(filter);
  });
  return aedes;
}

/** Counts the connections of each address that are not let in yet, and cuts those too many. */
function createStrangers(refuse: NoteRefusal) {
  const addresses = new Map<string, string>();
  const nameOf = ({ remoteAddress, remotePort }: Socket): string =>
    `${remoteAddress ?? ""} ${String(remotePort)}`;
  return {
    count(socket: Socket): void {
      const name = nameOf(socket);
      const address = socket.remoteAddress ?? "";
      const others = [...addresses.values()].filter((other) => other === address).length;
      if (others >= STRANGERS_MAX) {
        refuse("too-many-connections", { address });
        socket.destroy();
        return;
      }
      addresses.set(name, address);
      socket.on("close", () => addresses.delete(name));
    },
    forget: (socket: Socket): boolean => addresses.delete(nameOf(socket)),
  };
}
