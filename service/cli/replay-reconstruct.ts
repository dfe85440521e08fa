import type { SiteSettings } from "../../config/site-settings.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { isThrottled, reconstructDays } from "../../simulator/reconstruct/reconstruct-days.ts";

export interface ReadDays {
  readonly middle: () => Iterable<DaySeries>;
  /** null: nothing had to be inferred. */
  readonly ends: { readonly low: readonly DaySeries[]; readonly high: readonly DaySeries[] } | null;
}

/**
 * Days of which the first is a throttled recording, as they could have been; all others pass as
 * they are, one by one. What comes after a hidden hour tells of it, so a recording is read whole.
 *
 * @throws UserError if a day does not tell when its arrays were held back.
 */
export function reconstructed(days: () => Iterable<DaySeries>, site: SiteSettings): ReadDays {
  for (const first of days()) {
    if (!isThrottled(first)) break;
    const { low, middle, high } = reconstructDays([...days()], site);
    return { middle: () => middle, ends: { low, high } };
  }
  return { middle: days, ends: null };
}
