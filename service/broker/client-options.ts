import type { IClientOptions } from "mqtt";

/** A dead daemon's will fires within 1.5 × this. [s] */
const KEEP_ALIVE_S = 5;
const CONNECT_TIMEOUT_MS = 5_000;

/** What the library is to know of a connection; nothing that matters is left to its defaults. */
export interface ClientIdentity {
  readonly clientId: string;
  readonly protocolVersion: 4 | 5;
  readonly username: string | null;
  readonly will: { readonly topic: string; readonly payload: string; isRetained: boolean } | null;
}

export function clientOptions(options: ClientIdentity, password: string | null): IClientOptions {
  const { will } = options;
  return {
    clientId: options.clientId,
    protocolVersion: options.protocolVersion,
    clean: true,
    keepalive: KEEP_ALIVE_S,
    connectTimeout: CONNECT_TIMEOUT_MS,
    // Reconnecting is ours: see the head of this file.
    reconnectPeriod: 0,
    resubscribe: false,
    queueQoSZero: false,
    timerVariant: "native",
    ...(options.username === null ? {} : { username: options.username }),
    ...(password === null ? {} : { password }),
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
