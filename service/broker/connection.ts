/**
 * One connection to the broker that never delivers anything late.
 *
 * The library's own reconnecting keeps what was in flight and sends it again when the link comes
 * back. For a command that is dangerous: an ON from before the break would switch a load on after
 * the core has given it up. So every attempt here gets a client of its own, whose queue and store
 * are thrown away with it; nothing outlives a break, and what was not acknowledged counts as lost.
 */
import { Socket } from "node:net";
import type { IClientOptions, MqttClient } from "mqtt";
import type { Clock } from "../clock.ts";
import type { Log } from "../log.ts";
import type { BrokerAccess } from "./access.ts";
import { clientOptions } from "./client-options.ts";
import type { ClientIdentity } from "./client-options.ts";
import { readCredentials } from "./credentials.ts";
import type { Credentials } from "./credentials.ts";
import { connectionTrouble } from "./trouble.ts";

export interface OutgoingMessage {
  readonly topic: string;
  readonly payload: string;
  readonly qos: 0 | 1;
  readonly isRetained: boolean;
  /** Dropped by the broker when older than this (MQTT 5 alone); null: never. [s] > 0 */
  readonly messageExpiryS: number | null;
}

export interface IncomingMessage {
  readonly topic: string;
  readonly payload: Uint8Array;
  /** Kept by the broker from before we subscribed. */
  readonly isRetained: boolean;
}

export interface ConnectionHandlers {
  readonly onUp: () => void;
  readonly onDown: () => void;
  readonly onMessage: (message: IncomingMessage) => void;
  /** A handler threw: a programmer's error, for the owner to end the process on. */
  readonly onFault: (error: unknown) => void;
}

export interface ConnectionOptions extends ClientIdentity {
  readonly access: BrokerAccess;
  readonly clock: Clock;
  readonly log: Log;
  readonly handlers: ConnectionHandlers;
}

export interface BrokerConnection {
  /** Starts trying; resolves before it is up. @throws UserError for password and certificates. */
  start(): Promise<void>;
  isUp(): boolean;
  /** Why it is not up, in words; null while it is, and before the first attempt has failed. */
  trouble(): string | null;
  /** True once the broker has it (QoS 1: acknowledged). False: it is lost and will not be sent. */
  publish(message: OutgoingMessage): Promise<boolean>;
  /**
   * Exact topics, QoS 1. Has to be called again after every `onUp`.
   *
   * @returns Those that the broker refused; null: the connection was lost before its answer.
   */
  subscribe(topics: readonly string[]): Promise<readonly string[] | null>;
  /** How often an established connection was lost. */
  losses(): number;
  /** Leaves in good order, so that the broker deletes the will. */
  end(): Promise<void>;
}

const BACK_OFF_MIN_MS = 500;
const BACK_OFF_MAX_MS = 15_000;
/** The back-off starts anew only after a connection that lasted: two daemons of one name race. */
const STABLE_AFTER_MS = 20_000;
/** A broker that acknowledges nothing must not fill the memory. */
const UNACKNOWLEDGED_MAX = 1_000;

type ConnectFunction = (url: string, options: IClientOptions) => MqttClient;

/** What lasts longer than one client. */
interface Link {
  readonly options: ConnectionOptions;
  connect: ConnectFunction | null;
  session: Session | null;
  failures: number;
  losses: number;
  /** Said when it arose, and not again until it is another one. */
  trouble: string | null;
  isEnded: boolean;
  cancelRetry: () => void;
}

/** One client, from its first attempt until its end. */
interface Session {
  readonly client: MqttClient;
  /** Resolvers of everything that the broker has not acknowledged yet. */
  readonly pending: Set<() => void>;
  upSinceMs: number | null;
  isOver: boolean;
}

export function createConnection(options: ConnectionOptions): BrokerConnection {
  const link: Link = {
    options,
    connect: null,
    session: null,
    failures: 0,
    losses: 0,
    trouble: null,
    isEnded: false,
    cancelRetry: () => undefined,
  };
  return {
    async start() {
      await readCredentials(options.access);
      const mqtt = await import("mqtt");
      link.connect = (url, clientOptions) => mqtt.connect(url, clientOptions);
      await open(link);
    },
    isUp: () => upSession(link) !== null,
    trouble: () => link.trouble,
    publish: (message) => publish(link, message),
    subscribe: (topics) => subscribe(link, topics),
    losses: () => link.losses,
    end: () => end(link),
  };
}

async function open(link: Link): Promise<void> {
  if (link.isEnded || link.connect === null) return;
  const { options } = link;
  let credentials: Credentials;
  try {
    credentials = await readCredentials(options.access);
  } catch (error) {
    retryLater(link, error);
    return;
  }
  // `end` may have been called while the files were read.
  if (hasEnded(link)) return;
  let client: MqttClient;
  try {
    client = link.connect(options.access.url, clientOptions(options, options.access, credentials));
  } catch (error) {
    retryLater(link, error);
    return;
  }
  const session: Session = { client, pending: new Set(), upSinceMs: null, isOver: false };
  link.session = session;
  client.on("connect", () => wentUp(link, session));
  client.on("message", (topic, payload, packet) => {
    if (session.isOver) return;
    guarded(link, () => options.handlers.onMessage({ topic, payload, isRetained: packet.retain }));
  });
  client.on("error", (error) => finish(link, session, error));
  client.on("close", () => finish(link, session, null));
}

function wentUp(link: Link, session: Session): void {
  if (session.isOver) return;
  session.upSinceMs = link.options.clock.monotonicMs();
  link.trouble = null;
  // Small packets must not wait for the acknowledgement of the one before: 40 ms for a command.
  if (session.client.stream instanceof Socket) session.client.stream.setNoDelay(true);
  link.options.log.info({ clientId: link.options.clientId }, "broker connection is up");
  guarded(link, link.options.handlers.onUp);
}

/** Ends a client for good, whatever state it is in, and plans the next attempt. */
function finish(link: Link, session: Session, error: Error | null): void {
  if (session.isOver) return;
  session.isOver = true;
  const { options } = link;
  const { upSinceMs } = session;
  if (link.session === session) link.session = null;
  for (const giveUp of session.pending) giveUp();
  session.pending.clear();
  // Errors of a client that is given up must find a listener, and change nothing.
  session.client.on("error", () => undefined);
  session.client.end(true);
  if (upSinceMs !== null) {
    link.losses += 1;
    if (options.clock.monotonicMs() - upSinceMs > STABLE_AFTER_MS) link.failures = 0;
  }
  retryLater(link, error);
  if (upSinceMs !== null) guarded(link, options.handlers.onDown);
}

/** A broker that is away for days is told of once, and not at every attempt. */
function retryLater(link: Link, error: unknown): void {
  if (link.isEnded) return;
  const { log, clientId } = link.options;
  const reason = connectionTrouble(error);
  if (reason !== link.trouble) log.warn({ clientId, reason }, "broker connection is down");
  link.trouble = reason;
  const ceilingMs = Math.min(BACK_OFF_MAX_MS, BACK_OFF_MIN_MS * 2 ** Math.min(link.failures, 10));
  link.failures += 1;
  // Half fixed, half random, so that many clients don't come back to a broker in one instant.
  const delayMs = ceilingMs * (0.5 + 0.5 * Math.random());
  link.cancelRetry = link.options.clock.schedule(delayMs, () => void open(link));
}

function publish(link: Link, message: OutgoingMessage): Promise<boolean> {
  const session = upSession(link);
  if (session === null || session.pending.size >= UNACKNOWLEDGED_MAX) return Promise.resolve(false);
  const { messageExpiryS } = message;
  const hasExpiry = messageExpiryS !== null && link.options.access.protocolVersion === 5;
  return new Promise((resolve) => {
    const settle = settler(session, { resolve, onLoss: false });
    const options = {
      qos: message.qos,
      retain: message.isRetained,
      ...(hasExpiry ? { properties: { messageExpiryInterval: messageExpiryS } } : {}),
    };
    session.client.publish(message.topic, message.payload, options, (error) => {
      settle(!error);
    });
  });
}

function subscribe(link: Link, topics: readonly string[]): Promise<readonly string[] | null> {
  const session = upSession(link);
  if (session === null) return Promise.resolve(null);
  if (topics.length === 0) return Promise.resolve([]);
  return new Promise((resolve) => {
    const settle = settler<readonly string[] | null>(session, { resolve, onLoss: null });
    session.client.subscribe([...topics], { qos: 1 }, (error, asked, packet) => {
      // A refusal of one topic comes as an error, with the answers to all of them.
      const answers = packet?.granted;
      if (answers === undefined) settle(error === null ? [] : null);
      else
        settle((asked ?? []).map(({ topic }) => topic).filter((_, at) => isRefusal(answers[at])));
    });
  });
}

/** MQTT 3.1.1, 3.9.3, and 5.0, 3.9.3: 0x80 and above. */
function isRefusal(answer: unknown): boolean {
  return typeof answer !== "number" || answer >= 0x80;
}

/** Resolves once, and at the latest (with `onLoss`) when the session ends. */
function settler<T>(
  session: Session,
  { resolve, onLoss }: { readonly resolve: (answer: T) => void; readonly onLoss: T },
): (answer: T) => void {
  const giveUp = (): void => resolve(onLoss);
  session.pending.add(giveUp);
  return (answer) => {
    session.pending.delete(giveUp);
    resolve(answer);
  };
}

async function end(link: Link): Promise<void> {
  link.isEnded = true;
  link.cancelRetry();
  const { session } = link;
  if (session === null) return;
  const isUp = session.upSinceMs !== null;
  session.isOver = true;
  link.session = null;
  for (const giveUp of session.pending) giveUp();
  session.pending.clear();
  session.client.on("error", () => undefined);
  await new Promise<void>((resolve) => {
    // A link that hangs must not hold the process up; the broker then sends the will, rightly.
    const cancel = link.options.clock.schedule(1_000, () => {
      session.client.end(true);
      resolve();
    });
    session.client.end(!isUp, {}, () => {
      cancel();
      resolve();
    });
  });
}

function hasEnded(link: Link): boolean {
  return link.isEnded;
}

function upSession(link: Link): Session | null {
  const { session } = link;
  return session !== null && session.upSinceMs !== null && !session.isOver ? session : null;
}

function guarded(link: Link, handler: () => void): void {
  try {
    handler();
  } catch (error) {
    link.options.handlers.onFault(error);
  }
}
