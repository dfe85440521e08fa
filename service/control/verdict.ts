import type { Verdict } from "./decision.ts";

/*
 * One function for each kind of figures, each with one form of argument: a verdict is made for
 * every load at every tick, and one function that has to find out which figures it got is slow.
 */

/** A verdict that its code says all about. */
export function verdictOf(code: Verdict["code"], stage: number): Verdict {
  return { code, stage, measured: null, limit: null, remainingMs: null };
}

/** …that holds for a time that is known. */
export function timedVerdict(code: Verdict["code"], stage: number, remainingMs: number): Verdict {
  return { code, stage, measured: null, limit: null, remainingMs };
}

/** …that two numbers have decided. */
export function measuredVerdict(
  code: Verdict["code"],
  stage: number,
  { measured, limit }: Pick<Verdict, "measured" | "limit">,
): Verdict {
  return { code, stage, measured, limit, remainingMs: null };
}

/** …with both. */
export function fullVerdict(
  code: Verdict["code"],
  stage: number,
  { measured, limit, remainingMs }: Pick<Verdict, "measured" | "limit" | "remainingMs">,
): Verdict {
  return { code, stage, measured, limit, remainingMs };
}
