import type { IClientOptions } from "mqtt";
import type { BrokerAccess } from "./access.ts";
import type { Credentials, TlsMaterial } from "./credentials.ts";

/** A dead daemon's will fires within 1.5 × this. [s] */
const KEEP_ALIVE_S = 5;
const CONNECT_TIMEOUT_MS = 5_000;

/** Who a connection is at the broker, and what the broker says for it when it dies. */
export interface ClientIdentity {
  readonly clientId: string;
  readonly will: { readonly topic: string; readonly payload: string; isRetained: boolean } | null;
}

/** What the library is to know of a connection; nothing that matters is left to its defaults. */
export function clientOptions(
  { clientId, will }: ClientIdentity,
  access: BrokerAccess,
  { password, tls }: Credentials,
): IClientOptions {
  return {
    clientId,
    protocolVersion: access.protocolVersion,
    clean: true,
    keepalive: KEEP_ALIVE_S,
    connectTimeout: CONNECT_TIMEOUT_MS,
    // Reconnecting is ours: see the head of connection.ts.
    reconnectPeriod: 0,
    resubscribe: false,
    queueQoSZero: false,
    // All 65,536 packet numbers beforehand would take 8 MB, to spare one small buffer a packet.
    writeCache: false,
    timerVariant: "native",
    ...(access.username === null ? {} : { username: access.username }),
    ...(password === null ? {} : { password }),
    ...(tls === null ? {} : tlsOptions(tls)),
    ...(will === null
      ? {}
      : {
          will: {
            topic: will.topic,
            payload: Buffer.from(will.payload, "utf8"),
            qos: 1 as const,
            retain: will.isRetained,
          },
        }),
  };
}

function tlsOptions({ ca, own, serverName }: TlsMaterial) {
  return {
    rejectUnauthorized: true,
    minVersion: "TLSv1.2" as const,
    ...(ca === null ? {} : { ca }),
    ...(own === null ? {} : { cert: own.certificate, key: own.key }),
    ...(serverName === null ? {} : { servername: serverName }),
  };
}
