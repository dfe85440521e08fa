import type { Verdict } from "./decision.ts";

/** A verdict with the figures that it has; those it has not are null. */
export function verdictOf(
  code: Verdict["code"],
  stage: number,
  figures: {
    readonly measured?: number | null;
    readonly limit?: number | null;
    readonly remainingMs?: number | null;
  } = {},
): Verdict {
  return {
    code,
    stage,
    measured: figures.measured ?? null,
    limit: figures.limit ?? null,
    remainingMs: figures.remainingMs ?? null,
  };
}
