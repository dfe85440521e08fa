/** Whether this page is signed in, and what it may then ask of the service. */
import { useEffect, useState } from "preact/hooks";
import type { LoadView } from "../../state-view.ts";
import { ask, send } from "../api.ts";
import type { Written } from "../api.ts";
import { asSentence } from "../sentence.ts";

export type LoadOrder =
  { readonly request: "run" | "hold"; readonly forS: number } | { readonly request: "release" };

export interface Session {
  /** null: not known yet. */
  readonly isSignedIn: boolean | null;
  /** @returns Why not; null: signed in. */
  readonly signIn: (token: string) => Promise<string | null>;
  readonly signOut: () => void;
  /** @returns The load as it was decided on, or why that cannot be. */
  readonly order: (
    id: string,
    order: LoadOrder,
  ) => Promise<{ readonly load: LoadView } | { readonly refusal: string }>;
  /** @returns What the service answers, or why not. */
  readonly write: <Path extends keyof Written>(
    path: Path,
    body: object,
  ) => Promise<{ readonly value: Written[Path] } | { readonly refusal: string }>;
}

export function useSession(): Session {
  const [csrfToken, setCsrfToken] = useState<string | null | undefined>(undefined);
  useEffect(() => {
    ask("/api/session").then(
      (session) => setCsrfToken(session.csrfToken),
      () => setCsrfToken(null),
    );
  }, []);
  const write: Session["write"] = async (path, body) => {
    try {
      return { value: await send(path, body, csrfToken ?? null) };
    } catch (error) {
      if (isSignedOut(error)) setCsrfToken(null);
      return { refusal: wordsOf(error) };
    }
  };
  return {
    isSignedIn: csrfToken === undefined ? null : csrfToken !== null,
    async signIn(token) {
      try {
        setCsrfToken((await send("/api/session", { token }, null)).csrfToken);
        return null;
      } catch (error) {
        return wordsOf(error);
      }
    },
    signOut() {
      void send("/api/session/end", {}, csrfToken ?? null).finally(() => setCsrfToken(null));
    },
    async order(id, order) {
      const answer = await write(`/api/loads/${encodeURIComponent(id)}/request`, order);
      return "refusal" in answer ? answer : answer.value;
    },
    write,
  };
}

/** The service was started anew, or the week is over. */
function isSignedOut(error: unknown): boolean {
  return typeof error === "object" && error !== null && "status" in error && error.status === 401;
}

function wordsOf(error: unknown): string {
  return error instanceof Error ? asSentence(error.message) : "That failed.";
}
