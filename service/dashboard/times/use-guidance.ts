/** The service's advice, asked for again while the page is open. */
import { useEffect, useState } from "preact/hooks";
import type { GuidanceView } from "../../guidance-view.ts";
import { ask } from "../api.ts";
import { every } from "../browser-clock.ts";
import { asSentence } from "../sentence.ts";

/** The service works it out anew once a minute at the most. */
const ASK_EVERY_MS = 30_000;

export interface Asked {
  readonly advice: GuidanceView | null;
  /** Why the last question was not answered; what is shown may be old. */
  readonly refusal: string | null;
}

export function useGuidance(): Asked {
  const [asked, setAsked] = useState<Asked>({ advice: null, refusal: null });
  useEffect(() => {
    let isWanted = true;
    const askAgain = (): void => {
      ask("/api/guidance").then(
        (advice) => {
          if (isWanted) setAsked({ advice, refusal: null });
        },
        (error: unknown) => {
          const refusal = error instanceof Error ? asSentence(error.message) : "That failed.";
          // Advice that may no longer hold is taken away, not left standing.
          if (isWanted) setAsked({ advice: null, refusal });
        },
      );
    };
    askAgain();
    const stop = every(ASK_EVERY_MS, askAgain);
    return () => {
      isWanted = false;
      stop();
    };
  }, []);
  return asked;
}
