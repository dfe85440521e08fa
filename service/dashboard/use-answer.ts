/** What the service answers to a question, and again when the question changes. */
import { useEffect, useState } from "preact/hooks";
import { asSentence } from "./sentence.ts";

export interface Answer<Value> {
  readonly value: Value | null;
  /** Why there is none. */
  readonly refusal: string | null;
}

/** @param key - Says which question it is; null: nothing is asked. */
export function useAnswer<Value>(key: string | null, ask: () => Promise<Value>): Answer<Value> {
  const [answer, setAnswer] = useState<Answer<Value> & { readonly key: string | null }>({
    key: null,
    value: null,
    refusal: null,
  });
  useEffect(() => {
    let isWanted = true;
    if (key === null) return undefined;
    ask().then(
      (value) => {
        if (isWanted) setAnswer({ key, value, refusal: null });
      },
      (error: unknown) => {
        const text = error instanceof Error ? asSentence(error.message) : "That failed.";
        if (isWanted) setAnswer({ key, value: null, refusal: text });
      },
    );
    return () => {
      isWanted = false;
    };
  }, [key]);
  return answer.key === key ? answer : { value: null, refusal: null };
}
