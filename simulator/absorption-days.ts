export interface AbsorptionDays {
  /** At the start of a local day. @returns whether a full charge is overdue on it. */
  open(localDay: number): boolean;
  /** @param completed - Full charges since the plant was made. */
  add(completed: number): void;
}

/** @param everyDays - The longest time without a full charge; null: no rule. [d] */
export function createAbsorptionDays(everyDays: number | null): AbsorptionDays {
  let day = 0;
  let lastFullDay: number | null = null;
  let seen = 0;
  return {
    open(localDay) {
      day = localDay;
      lastFullDay ??= localDay;
      return everyDays !== null && localDay - lastFullDay > everyDays;
    },
    add(completed) {
      if (completed === seen) return;
      seen = completed;
      lastFullDay = day;
    },
  };
}
