import type { OutcomeReport } from "../outcome.ts";

/** What a choice is made by. */
export interface Figures {
  readonly usefulDivertedWh: number;
  readonly reserveDrawnWh: number;
  /** Days of all three kinds that need not have been. */
  readonly misses: number;
  readonly starts: number;
}

export function figuresOf({ totals }: OutcomeReport): Figures {
  const { usefulDivertedWh, reserveDrawnWh, starts } = totals;
  const misses = totals.reserveDays + totals.sunsetMisses + totals.absorptionMisses;
  return { usefulDivertedWh, reserveDrawnWh, misses, starts };
}

/**
 * Places of those that no other beats in everything, the most useful first; none that misses more
 * days than the present settings.
 */
export function frontOf(all: readonly Figures[], now: Figures): readonly number[] {
  const allowed = [...all.entries()].filter(([, figures]) => figures.misses <= now.misses);
  return allowed
    .filter(
      ([place, one]) => !allowed.some(([other, figures]) => beats(figures, one, other < place)),
    )
    .sort(([, one], [, other]) => other.usefulDivertedWh - one.usefulDivertedWh)
    .map(([place]) => place);
}

/** Of two that are alike the first one counts. */
function beats(one: Figures, other: Figures, isFirst: boolean): boolean {
  const gains = [
    one.usefulDivertedWh - other.usefulDivertedWh,
    other.reserveDrawnWh - one.reserveDrawnWh,
    other.misses - one.misses,
    other.starts - one.starts,
  ];
  if (gains.some((gain) => gain < 0)) return false;
  return isFirst || gains.some((gain) => gain > 0);
}
