/** Who may connect to the embedded broker, and what each may say and hear. */
import { createHash, randomBytes, timingSafeEqual } from "node:crypto";
import type { BrokerUserSettings } from "../../config/site-settings.ts";
import { isCoveredByAny, isTopicFilter } from "../../config/topic-filters.ts";
import { readPassword } from "./credentials.ts";

export type Identity =
  /** This process itself. */
  | { readonly kind: "service" }
  /** Somebody on this machine, at a broker without users. */
  | { readonly kind: "anyone" }
  | { readonly kind: "user"; readonly user: BrokerUserSettings };

/** No user of the settings can be called so. */
const SERVICE_NAME = "$service";

export interface EmbeddedUsers {
  /** By which this process gets in; made anew at each start, and written nowhere. */
  readonly service: { readonly username: string; readonly password: string };
  /** @returns null: refused. */
  identify(login: Login): Promise<Identity | null>;
}

export interface Login {
  readonly username: string | undefined;
  readonly password: Uint8Array | undefined;
  /** On the listener that is there for this process alone. */
  readonly isInner: boolean;
}

export function createEmbeddedUsers(users: readonly BrokerUserSettings[] | null): EmbeddedUsers {
  const service = { username: SERVICE_NAME, password: randomBytes(32).toString("base64url") };
  return {
    service,
    async identify({ username, password = new Uint8Array(), isInner }) {
      if (isInner) {
        const isService = username === SERVICE_NAME && isSame(password, service.password);
        return isService ? { kind: "service" } : null;
      }
      if (users === null) return { kind: "anyone" };
      const user = users.find(({ name }) => name === username);
      if (user === undefined) return null;
      // Read anew each time, so that a changed password counts from now on.
      const right = await readPassword(user.passwordFile, "broker.embedded.users");
      return isSame(password, right) ? { kind: "user", user } : null;
    },
  };
}

/** Takes the same time wherever the two differ, and however long they are. */
function isSame(given: Uint8Array, right: string): boolean {
  return timingSafeEqual(digest(given), digest(right));
}

function digest(text: Uint8Array | string): Buffer {
  return createHash("sha256").update(text).digest();
}

/** `$SYS` tells who else is there, and may be written by the broker alone. */
export function mayPublish(identity: Identity, topic: string): boolean {
  if (topic.startsWith("$")) return false;
  return identity.kind !== "user" || isCoveredByAny(topic, identity.user.publish);
}

/** A filter must lie wholly within what the user may hear: `#` is not narrowed, it is refused. */
export function maySubscribe(identity: Identity, filter: string): boolean {
  if (filter.startsWith("$") || !isTopicFilter(filter)) return false;
  return identity.kind !== "user" || isCoveredByAny(filter, identity.user.subscribe);
}

export function nameOf(identity: Identity): string {
  return identity.kind === "user" ? identity.user.name : identity.kind;
}
