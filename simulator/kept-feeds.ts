/**
 * The same days replayed with one settings after the other: what sun and wind give to the same
 * arrays is worked out once.
 */
import type { DaySeries } from "./days/day-file.ts";
import { dayFeed } from "./feed.ts";
import type { DayFeed, FeedOptions } from "./feed.ts";

interface KeptFeed {
  readonly under: string;
  readonly feed: DayFeed;
}

/** @returns `dayFeed` that keeps the last feed of each day, for as long as the day is kept. */
export function keepFeeds(): typeof dayFeed {
  const kept = new WeakMap<DaySeries, KeptFeed>();
  return (series, options) => {
    const under = keyOf(options);
    const known = kept.get(series);
    if (known !== undefined && known.under === under) return known.feed;
    const feed = dayFeed(series, options);
    kept.set(series, { under, feed });
    return feed;
  };
}

/** Everything that a feed depends on besides its day. */
function keyOf({ plant, sitePlace, mayBridge }: FeedOptions): string {
  const { arrays, charger, irradianceSensor, obstruction, wind } = plant;
  const made = [arrays, charger, irradianceSensor, obstruction, wind];
  return JSON.stringify([made, sitePlace, mayBridge]);
}
