/** A small broker inside the process, for a site without one of its own, the demo and tests. */
import { createServer } from "node:net";
import type { AddressInfo, Server, Socket } from "node:net";
import { UserError } from "../errors.ts";

export interface EmbeddedBroker {
  readonly host: string;
  /** The one really bound, also if 0 was asked for. */
  readonly port: number;
  readonly url: string;
  readonly close: () => Promise<void>;
}

const LOOPBACK_HOSTS: ReadonlySet<string> = new Set(["127.0.0.1", "::1", "localhost"]);

/**
 * Starts the broker; it speaks MQTT 3.1.1.
 *
 * It has no passwords and no access rules yet, so it listens on this machine alone: anyone who can
 * reach it can switch loads.
 *
 * @throws UserError if `host` is not this machine, or the port is taken.
 */
export async function createEmbeddedBroker(address: {
  readonly host: string;
  readonly port: number;
}): Promise<EmbeddedBroker> {
  if (!LOOPBACK_HOSTS.has(address.host)) {
    throw new UserError([
      {
        code: "embedded-broker-not-loopback",
        where: "broker.embedded.host",
        found: address.host,
        expected: "127.0.0.1, ::1 or localhost: the embedded broker has no passwords",
        suggestion: "run a broker of your own with passwords, and give its address as broker.url",
      },
    ]);
  }
  const { Aedes } = await import("aedes");
  const aedes = await Aedes.createBroker({ connectTimeout: 10_000, maxTopicLevels: 20 });
  // A client that breaks the protocol is dropped by the library; the events need a listener.
  aedes.on("clientError", () => undefined);
  aedes.on("connectionError", () => undefined);
  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.on("close", () => sockets.delete(socket));
    socket.on("error", () => socket.destroy());
    socket.setNoDelay(true);
    aedes.handle(socket);
  });
  const closeAedes = (): Promise<void> =>
    new Promise((resolve) => {
      aedes.close(() => resolve());
    });
  let port: number;
  try {
    port = await listen(server, address);
  } catch (error) {
    // Its heartbeat would keep the process alive.
    await closeAedes();
    throw error;
  }
  return {
    host: address.host,
    port,
    url: `mqtt://${address.host.includes(":") ? `[${address.host}]` : address.host}:${String(port)}`,
    close: async () => {
      await closeAedes();
      for (const socket of sockets) socket.destroy();
      await new Promise<void>((resolve) => {
        server.close(() => resolve());
      });
    },
  };
}

function listen(
  server: Server,
  address: { readonly host: string; readonly port: number },
): Promise<number> {
  return new Promise((resolve, reject) => {
    server.once("error", (error: NodeJS.ErrnoException) => {
      reject(
        new UserError([
          {
            code: "embedded-broker-port",
            where: `${address.host}:${String(address.port)}`,
            key: "broker.embedded.port",
            found: error.code ?? error.message,
            expected: "a free port",
          },
        ]),
      );
    });
    server.listen({ host: address.host, port: address.port }, () => {
      const bound = server.address();
      resolve(isAddressInfo(bound) ? bound.port : address.port);
    });
  });
}

function isAddressInfo(bound: AddressInfo | string | null): bound is AddressInfo {
  return typeof bound === "object" && bound !== null;
}
