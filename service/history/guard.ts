/**
 * Work that may fail without keeping anybody from theirs: it is told once when it begins to fail,
 * and once when it goes well again.
 */
import { codeOf } from "./connection.ts";
import type { Say } from "./store.ts";

export interface Guard {
  /** @returns True if nothing was thrown. */
  readonly run: (work: () => void) => boolean;
  readonly isWell: () => boolean;
}

/** @param isProven - Whether work that went well shows that all is well again. */
export function createGuard(
  what: "journal" | "memory",
  options: { readonly say: Say; readonly isProven: () => boolean },
): Guard {
  const { say, isProven } = options;
  let isFaulty = false;
  return {
    run(work) {
      try {
        work();
      } catch (error) {
        const reason = error instanceof Error ? error.message : String(error);
        if (!isFaulty) {
          say("warn", `the ${what} cannot be written; control goes on`, {
            code: codeOf(error),
            reason,
          });
        }
        isFaulty = true;
        return false;
      }
      if (isFaulty && isProven()) {
        isFaulty = false;
        say("info", `the ${what} is written again`, {});
      }
      return true;
    },
    isWell: () => !isFaulty,
  };
}
