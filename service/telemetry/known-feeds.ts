/** What a table knew, for the one that takes its place under other settings. */
import { feedPrint, takeOverFeed } from "./feed.ts";
import type { Feed } from "./feed.ts";
import { nameOf } from "./row.ts";
import type { Tap } from "./row.ts";

export interface KnownFeed {
  /** Of its signal, with the owner. */
  readonly name: string;
  readonly feed: Feed;
}

export function knownFeeds(taps: readonly Tap[]): readonly KnownFeed[] {
  return taps.map(({ row, feed }) => ({ name: nameOf(row), feed }));
}

export function takeOverFeeds(feeds: readonly KnownFeed[], before: readonly KnownFeed[]): void {
  const known = new Map(before.map((one) => [printOf(one), one.feed]));
  for (const one of feeds) {
    const same = known.get(printOf(one));
    if (same !== undefined) takeOverFeed(one.feed, same);
  }
}

function printOf({ name, feed }: KnownFeed): string {
  return `${name} ${feedPrint(feed)}`;
}
