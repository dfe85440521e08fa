/**
 * Who has signed in with the service's token, on a page. A session is a random number in a cookie
 * that no script can read; here only its hash is kept, and only until the service ends.
 */
import { createHash, createHmac, randomBytes, timingSafeEqual } from "node:crypto";

export interface Sessions {
  /** @returns What goes into the cookie. */
  readonly begin: () => string;
  readonly end: (cookieHeader: string | undefined) => void;
  readonly has: (cookieHeader: string | undefined) => boolean;
  /**
   * What a page of ours must send along with a write: another site's page can make a browser send
   * the cookie, but can't read this. @returns null without a session.
   */
  readonly csrfToken: (cookieHeader: string | undefined) => string | null;
}

const COOKIE = "bywash_session";
const ID_BYTES = 32;
/** Then the token is asked for again. */
export const SESSION_S = 7 * 24 * 3_600;
/** Past so many, whoever signed in longest ago has to do so again. */
export const SESSIONS_MAX = 32;
const MS_PER_S = 1000;

export function createSessions(nowMs: () => number): Sessions {
  const key = randomBytes(ID_BYTES);
  /** By hash; in the order in which they began. */
  const endsAtMs = new Map<string, number>();
  const idIn = (cookieHeader: string | undefined): string | null => {
    const id = cookieValue(cookieHeader);
    if (id === null) return null;
    const endMs = endsAtMs.get(hashOf(id));
    return endMs !== undefined && nowMs() < endMs ? id : null;
  };
  return {
    begin() {
      const id = randomBytes(ID_BYTES).toString("base64url");
      endsAtMs.set(hashOf(id), nowMs() + SESSION_S * MS_PER_S);
      const [oldest] = endsAtMs.keys();
      if (endsAtMs.size > SESSIONS_MAX && oldest !== undefined) endsAtMs.delete(oldest);
      return id;
    },
    end(cookieHeader) {
      const id = cookieValue(cookieHeader);
      if (id !== null) endsAtMs.delete(hashOf(id));
    },
    has: (cookieHeader) => idIn(cookieHeader) !== null,
    csrfToken(cookieHeader) {
      const id = idIn(cookieHeader);
      return id === null ? null : createHmac("sha256", key).update(id).digest("base64url");
    },
  };
}

/** `Secure` is left out: on the site's own network there is no certificate to have. */
export function sessionCookie(id: string | null): string {
  const maxAgeS = id === null ? 0 : SESSION_S;
  const attributes = `Path=/; HttpOnly; SameSite=Strict; Max-Age=${String(maxAgeS)}`;
  return `${COOKIE}=${id ?? ""}; ${attributes}`;
}

/** Takes as long for a wrong text as for the right one. */
export function isSameText(given: string, right: string): boolean {
  const digest = (text: string): Buffer => createHash("sha256").update(text, "utf8").digest();
  return timingSafeEqual(digest(given), digest(right));
}

function hashOf(id: string): string {
  return createHash("sha256").update(id, "utf8").digest("base64url");
}

function cookieValue(header: string | undefined): string | null {
  for (const part of (header ?? "").split(";")) {
    const [name, value] = part.trim().split("=");
    if (name === COOKIE && value !== undefined && value !== "") return value;
  }
  return null;
}
