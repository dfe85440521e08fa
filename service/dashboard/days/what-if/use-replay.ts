/** A replay of the service's from its beginning to its end, or until it is given up. */
import { useEffect, useState } from "preact/hooks";
import type { WhatIfView } from "../../../what-if-desk.ts";
import { ask } from "../../api.ts";
import { after } from "../../browser-clock.ts";
import { asSentence } from "../../sentence.ts";
import type { Session } from "../../session/session.ts";
import type { Changes } from "../../settings/proposal.ts";

export interface Replay {
  /** The last one that was begun; null: none. */
  readonly view: WhatIfView | null;
  /** Why none could be begun, or asked for. */
  readonly refusal: string;
  readonly begin: (changes: Changes) => void;
  readonly cancel: () => void;
}

const ASK_EVERY_MS = 500;

export function useReplay(session: Session, date: string): Replay {
  const [view, setView] = useState<WhatIfView | null>(null);
  const [refusal, setRefusal] = useState("");
  const [askedCount, setAskedCount] = useState(0);
  const runningId = view?.state === "running" ? view.id : null;
  useEffect(() => {
    if (runningId === null) return undefined;
    let isWanted = true;
    const cancel = after(ASK_EVERY_MS, () => {
      ask(`/api/what-if/${runningId}`).then(
        (answer) => {
          if (!isWanted) return;
          setView(answer);
          setAskedCount((count) => count + 1);
        },
        (error: unknown) => {
          if (!isWanted) return;
          setView(null);
          setRefusal(error instanceof Error ? asSentence(error.message) : "That failed.");
        },
      );
    });
    return () => {
      isWanted = false;
      cancel();
    };
  }, [runningId, askedCount]);
  const write = async (
    path: `/api/days/${string}/what-if` | `/api/what-if/${string}/cancel`,
    body: object,
  ): Promise<void> => {
    const answer = await session.write(path, body);
    if ("refusal" in answer) setRefusal(answer.refusal);
    else setView(answer.value);
  };
  return {
    view,
    refusal,
    begin(changes) {
      setRefusal("");
      void write(`/api/days/${date}/what-if`, { set: Object.fromEntries(changes) });
    },
    cancel() {
      if (runningId !== null) void write(`/api/what-if/${runningId}/cancel`, {});
    },
  };
}
