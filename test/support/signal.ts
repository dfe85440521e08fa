/** Signals of one sensor with one feed, as most tests want them. */
import type { FeedSettings, SignalSettings } from "../../config/site-settings.ts";

export const PLAIN_FEED: FeedSettings = {
  topic: "shed/battery",
  field: null,
  decoding: { kind: "number", scale: 1, offset: 0 },
  min: -1e9,
  max: 1e9,
  staleMs: 60_000,
  stamp: null,
  maxChange: null,
  frozenMs: null,
  weight: 1,
};

export type SignalOfOne = Partial<FeedSettings> & Pick<SignalSettings, "key" | "ownerId">;

export function signalOfOne({ key, ownerId, ...own }: SignalOfOne): SignalSettings {
  const feed = { ...PLAIN_FEED, ...own };
  const { min, max } = feed;
  return { key, ownerId, sensors: [{ combine: "alone", feeds: [feed], min, max }] };
}

/** Of a signal that has one sensor with one feed. */
export function feedOf({ key, sensors }: SignalSettings): FeedSettings {
  const [sensor, ...moreSensors] = sensors;
  const [feed, ...moreFeeds] = sensor?.feeds ?? [];
  if (feed === undefined || moreSensors.length + moreFeeds.length > 0) {
    throw new Error(`${key} has not one feed alone`);
  }
  return feed;
}
