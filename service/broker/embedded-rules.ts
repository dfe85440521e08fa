/** The embedded broker's answers to its library's questions: who gets in, and what each may do. */
import type { AedesOptions, Client } from "aedes";
import type { Clock } from "../clock.ts";
import { maySubscribe, mayPublish, nameOf } from "./embedded-users.ts";
import type { EmbeddedUsers, Identity } from "./embedded-users.ts";
import type { NoteRefusal, Refusal } from "./refusals.ts";

/** What is known of one connection. */
export interface Visitor {
  readonly isInner: boolean;
  readonly address: string;
  /** Called once the client is let in. */
  readonly onAdmitted: (identity: Identity) => void;
  identity: Identity | null;
  willTopic: string | null;
  readonly filters: Set<string>;
}

interface RulesOptions {
  readonly users: EmbeddedUsers;
  readonly visitors: WeakMap<Client, Visitor>;
  readonly clock: Clock;
  readonly refuse: NoteRefusal;
}

export type Rules = Required<
  Pick<AedesOptions, "preConnect" | "authenticate" | "authorizePublish" | "authorizeSubscribe">
> & {
  /** To be called when the connection has ended. */
  readonly left: (client: Client) => void;
};

const SUBSCRIPTIONS_MAX = 500;
const RETAINED_MAX = 2_000;
/** A guess at a password costs this much time. [ms] */
const REFUSAL_DELAY_MS = 500;

/** MQTT 3.1.1 (OASIS Standard), table 3.1: return codes of a refused connection. */
const IDENTIFIER_REJECTED = 2;
const BAD_PASSWORD = 4;
const NOT_AUTHORISED = 5;

/** What the rules share. */
interface Door extends RulesOptions {
  /** Whose client id it is, so that nobody throws another user's connection out. */
  readonly holders: Map<string, { readonly client: Client; readonly name: string }>;
  readonly retained: Set<string>;
}

export function createRules(options: RulesOptions): Rules {
  const door: Door = { ...options, holders: new Map(), retained: new Set() };
  const { visitors, holders } = door;
  return {
    preConnect(client, packet, callback) {
      const visitor = visitors.get(client);
      if (visitor !== undefined) visitor.willTopic = packet.will?.topic ?? null;
      // Nothing is kept for a client that is away: no command may come late.
      packet.clean = true;
      callback(null, visitor !== undefined);
    },
    authenticate(client, username, ...[password, done]) {
      void answerLogin(door, { client, username, password }).then((code) => {
        if (code === null) done(null, true);
        else done(Object.assign(new Error("connection refused"), { returnCode: code }), null);
      });
    },
    authorizePublish(client, packet, callback) {
      callback(client === null ? null : publishTrouble(door, client, packet));
    },
    authorizeSubscribe(client, subscription, callback) {
      // Without a subscription the answer is 0x80, refused.
      callback(null, isHeard(door, client, subscription.topic) ? subscription : null);
    },
    left(client) {
      if (holders.get(client.id)?.client === client) holders.delete(client.id);
    },
  };
}

/** @returns The return code of a refusal, after a while; null: let in. */
async function answerLogin(door: Door, login: Login): Promise<number | null> {
  const { visitors, clock, refuse } = door;
  const visitor = visitors.get(login.client);
  let code: number | null;
  try {
    code = visitor === undefined ? NOT_AUTHORISED : await admit(door, visitor, login);
  } catch {
    // A password file that has gone lets nobody in.
    code = BAD_PASSWORD;
  }
  if (code === null) return null;
  refuse(REFUSALS.get(code) ?? "login", { user: login.username, address: visitor?.address });
  await new Promise<void>((resolve) => clock.schedule(REFUSAL_DELAY_MS, resolve));
  return code;
}

async function admit(door: Door, visitor: Visitor, login: Login): Promise<number | null> {
  const { client } = login;
  const { users, holders } = door;
  const identity = await users.identify({ ...login, isInner: visitor.isInner });
  if (identity === null) return BAD_PASSWORD;
  const name = nameOf(identity);
  if ((holders.get(client.id)?.name ?? name) !== name) return IDENTIFIER_REJECTED;
  if (visitor.willTopic !== null && !mayPublish(identity, visitor.willTopic)) {
    return NOT_AUTHORISED;
  }
  holders.set(client.id, { client, name });
  visitor.identity = identity;
  visitor.onAdmitted(identity);
  return null;
}

/** Also asked for wills. An error cuts the connection, which is all that MQTT 3.1.1 allows. */
function publishTrouble(
  { visitors, retained, refuse }: Door,
  client: Client,
  packet: { readonly topic: string; readonly payload: string | Uint8Array; retain: boolean },
): Error | null {
  const { topic } = packet;
  const identity = visitors.get(client)?.identity ?? null;
  if (identity === null || !mayPublish(identity, topic)) {
    refuse("publish", { user: identity && nameOf(identity), topic });
    return new Error("not allowed to publish there");
  }
  if (packet.retain && !keep(retained, packet)) {
    refuse("too-many-retained", { user: nameOf(identity), topic });
    return new Error("too many retained messages");
  }
  return null;
}

function isHeard({ visitors, refuse }: Door, client: Client, filter: string): boolean {
  const visitor = visitors.get(client);
  const identity = visitor?.identity ?? null;
  if (visitor === undefined || identity === null || !maySubscribe(identity, filter)) {
    refuse("subscribe", { user: identity && nameOf(identity), filter });
    return false;
  }
  const { filters } = visitor;
  if (filters.size >= SUBSCRIPTIONS_MAX && !filters.has(filter)) {
    refuse("too-many-subscriptions", { user: nameOf(identity) });
    return false;
  }
  filters.add(filter);
  return true;
}

interface Login {
  readonly client: Client;
  readonly username: string | undefined;
  readonly password: Uint8Array | undefined;
}

const REFUSALS: ReadonlyMap<number, Refusal> = new Map<number, Refusal>([
  [IDENTIFIER_REJECTED, "client-id-taken"],
  [BAD_PASSWORD, "login"],
  [NOT_AUTHORISED, "will"],
]);

/** @returns False if there are too many already. An empty message takes one away (3.3.1.3). */
function keep(
  retained: Set<string>,
  { topic, payload }: { readonly topic: string; readonly payload: string | Uint8Array },
): boolean {
  if (payload.length === 0) retained.delete(topic);
  else if (retained.size >= RETAINED_MAX && !retained.has(topic)) return false;
  else retained.add(topic);
  return true;
}
