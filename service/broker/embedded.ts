/**
 * A small broker inside the process, for a site without one of its own, the demo and tests. It
 * speaks MQTT 3.1.1, and keeps nothing for clients that are away.
 *
 * It listens twice: where the settings say, under their rules; and on this machine, on a port that
 * is told to nobody and with a password made at the start, for this process alone. So whatever
 * outsiders do to the first, the service keeps its own way in.
 */
import { createServer } from "node:net";
import type { AddressInfo, Server } from "node:net";
import { createServer as createTlsServer } from "node:tls";
import { LOOPBACK_HOSTS } from "../../config/site-settings.ts";
import type { EmbeddedBrokerSettings } from "../../config/site-settings.ts";
import { UserError } from "../errors.ts";
import type { Log } from "../log.ts";
import { NO_TLS_FILES } from "./access.ts";
import type { BrokerAccess } from "./access.ts";
import { isOpenToAll, readCertificateWithKey, readPassword } from "./credentials.ts";
import { CONNECT_WITHIN_MS, openHall } from "./embedded-hall.ts";

export interface EmbeddedBroker {
  readonly host: string;
  /** The one really bound, also if 0 was asked for. */
  readonly port: number;
  /** For everybody else. */
  readonly url: string;
  /** For this process. */
  readonly access: BrokerAccess;
  readonly close: () => Promise<void>;
}

const INNER_HOST = "127.0.0.1";

/** @throws UserError if others could come in without a name, the port is taken, a file is wrong. */
export async function createEmbeddedBroker(
  settings: EmbeddedBrokerSettings,
  log: Log,
): Promise<EmbeddedBroker> {
  await checkSettings(settings, log);
  const { host } = settings;
  const outer = await createOuterServer(settings);
  const inner = createServer();
  const hall = await openHall(settings, log);
  hall.receive(outer, { isInner: false });
  hall.receive(inner, { isInner: true });
  let port: number;
  let innerPort: number;
  try {
    port = await listen(outer, settings);
    innerPort = await listen(inner, { host: INNER_HOST, port: 0 });
  } catch (error) {
    // Its heartbeat would keep the process alive.
    await hall.close([outer, inner]);
    throw error;
  }
  const scheme = settings.tls === null ? "mqtt" : "mqtts";
  const { username, password } = hall.service;
  return {
    host,
    port,
    url: `${scheme}://${host.includes(":") ? `[${host}]` : host}:${String(port)}`,
    access: {
      url: `mqtt://${INNER_HOST}:${String(innerPort)}`,
      protocolVersion: 4,
      username,
      password: { kind: "known", password },
      tls: NO_TLS_FILES,
    },
    close: () => hall.close([outer, inner]),
  };
}

async function checkSettings({ host, users }: EmbeddedBrokerSettings, log: Log): Promise<void> {
  if (users === null && !LOOPBACK_HOSTS.has(host)) {
    throw new UserError([
      {
        code: "embedded-broker-open",
        where: "broker.embedded.host",
        found: host,
        expected: "127.0.0.1, ::1 or localhost, or users: whoever reaches it could switch loads",
      },
    ]);
  }
  for (const { name, passwordFile } of users ?? []) {
    await readPassword(passwordFile, `broker.embedded.users.${name}.passwordFile`);
    if (await isOpenToAll(passwordFile)) {
      log.warn({ file: passwordFile }, "everybody on this machine can read this secret: chmod o-r");
    }
  }
}

async function createOuterServer({ tls }: EmbeddedBrokerSettings): Promise<Server> {
  if (tls === null) return createServer();
  const own = await readCertificateWithKey({ ...tls, at: "broker.embedded.tls" });
  return createTlsServer({
    cert: own.certificate,
    key: own.key,
    minVersion: "TLSv1.2",
    handshakeTimeout: CONNECT_WITHIN_MS,
  });
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
