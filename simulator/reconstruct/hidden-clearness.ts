/**
 * How clear it was while nothing showed it: between what was seen before and after. Each side by
 * itself is carried on with a range that was fitted to throttled weeks; time runs backwards for the
 * other one, and the nearer side counts for more.
 */
import { carriedClearness, PAST_LENGTH } from "./carried-clearness.ts";
import type { ClearnessRange } from "./carried-clearness.ts";
import { quantile, SLOT_MS, slotNumber } from "./clear-record.ts";

/** What was seen longer ago is of another day. [slots] */
const REACH = (10 * 3_600_000) / SLOT_MS;
/** With less to go by, a whole record says nothing about its skies. */
const SKIES_MIN = 12;
/** Where nothing was ever seen. [1] no source */
const ANY_SKY: HiddenClearness = { low: 0.2, middle: 0.8, high: 1.15, seen: 0.8 };

export interface HiddenClearness extends ClearnessRange {
  /** As it was seen before and after, and nothing else. */
  readonly seen: number;
}

export function hiddenClearness(
  clearness: ReadonlyMap<number, number>,
): (atMs: number) => HiddenClearness {
  const usual = usualSky([...clearness.values()]);
  const side = (atMs: number, step: 1 | -1): { range: HiddenClearness; slots: number } | null => {
    const here = slotNumber(atMs);
    for (let slots = 1; slots <= REACH; slots += 1) {
      const seen = clearness.get(here + step * slots);
      if (seen === undefined) continue;
      const past = Array.from(
        { length: PAST_LENGTH },
        (_, i) => clearness.get(here + step * (slots + 1 + i)) ?? null,
      );
      const held = { clearness: (seen + (past[0] ?? seen)) / 2, forMs: slots * SLOT_MS };
      return { range: { ...carriedClearness({ past }, held), seen: held.clearness }, slots };
    }
    return null;
  };
  return (atMs) => {
    const before = side(atMs, -1);
    const after = side(atMs, 1);
    if (before === null || after === null) return before?.range ?? after?.range ?? usual;
    return between(before.range, after.range, before.slots / (before.slots + after.slots));
  };
}

function between(from: HiddenClearness, to: HiddenClearness, share: number): HiddenClearness {
  const mixed = (one: number, other: number): number => one + share * (other - one);
  return {
    low: mixed(from.low, to.low),
    middle: mixed(from.middle, to.middle),
    high: mixed(from.high, to.high),
    seen: mixed(from.seen, to.seen),
  };
}

function usualSky(seen: readonly number[]): HiddenClearness {
  if (seen.length < SKIES_MIN) return ANY_SKY;
  const middle = quantile(seen, 0.5) ?? ANY_SKY.middle;
  return {
    low: quantile(seen, 0.1) ?? ANY_SKY.low,
    middle,
    high: quantile(seen, 0.9) ?? ANY_SKY.high,
    seen: middle,
  };
}
