/**
 * What is known from one place where a value arrives. Messages change it as they come; how far it
 * may be trusted is asked for at the time of reading.
 */
import type { FeedSettings } from "../../config/site-settings.ts";
import { hasWildcard } from "../../config/topic-filters.ts";
import type { Quality } from "../control/observation.ts";
import type { IgnoredReason } from "./ignored.ts";
import type { Moves } from "./moves.ts";
import { breakStep, createPace, paceAllows } from "./pace.ts";
import type { Pace } from "./pace.ts";
import { decodePayload, pointerPath } from "./payload.ts";
import type { Payload, Reader, SignalValue } from "./payload.ts";
import { readStamp } from "./stamp.ts";
import type { StampReader } from "./stamp.ts";

export interface Feed {
  readonly settings: FeedSettings;
  readonly signalIndex: number;
  readonly reader: Reader;
  readonly stampReader: StampReader | null;
  /** The topic that it is read from; null: none of those that a wildcard matches has spoken yet. */
  topic: string | null;
  /** Last good value; null: none yet. */
  value: SignalValue | null;
  /** Arrival of that value. [ms] */
  atMs: number;
  /** The publisher's own time of that value. [ms since 1970-01-01T00:00:00Z] */
  stampMs: number | null;
  newestStampMs: number;
  /** When the value last became another one. [ms] */
  changedAtMs: number;
  /** The value came from the broker's memory, not from the publisher. */
  isRetained: boolean;
  /** The newest live message was not to be believed. */
  isImplausible: boolean;
  /** The connection was lost since: a signal that speaks on change only may have changed. */
  isCut: boolean;
  pace: Pace;
}

/** Both clocks at one instant. */
export interface Instant {
  /** Monotonic. [ms] */
  readonly nowMs: number;
  /** null: our wall clock cannot be right, and tells nothing. [ms since 1970-01-01T00:00:00Z] */
  readonly wallMs: number | null;
}

export interface Arrival extends Instant {
  readonly topic: string;
  readonly payload: Payload;
  readonly isRetained: boolean;
}

export function createFeed(settings: FeedSettings, signalIndex: number): Feed {
  const { stamp } = settings;
  return {
    settings,
    signalIndex,
    reader: {
      path: settings.field === null ? null : pointerPath(settings.field),
      decoding: settings.decoding,
    },
    stampReader: stamp === null ? null : { ...stamp, path: pointerPath(stamp.field) },
    topic: hasWildcard(settings.topic) ? null : settings.topic,
    value: null,
    atMs: Number.NEGATIVE_INFINITY,
    stampMs: null,
    newestStampMs: Number.NEGATIVE_INFINITY,
    changedAtMs: Number.NEGATIVE_INFINITY,
    isRetained: false,
    isImplausible: false,
    isCut: false,
    pace: createPace(),
  };
}

/** Alike for feeds that read the same value from the same place; their limits may differ. */
export function feedPrint({ settings }: Feed): string {
  const { topic, field, decoding, stamp, min, max } = settings;
  return JSON.stringify([topic, field, decoding, stamp, min, max]);
}

/** What another feed of the same print knew. */
export function takeOverFeed(feed: Feed, before: Feed): void {
  feed.topic = before.topic;
  feed.value = before.value;
  feed.atMs = before.atMs;
  feed.stampMs = before.stampMs;
  feed.newestStampMs = before.newestStampMs;
  feed.changedAtMs = before.changedAtMs;
  feed.isRetained = before.isRetained;
  feed.isImplausible = before.isImplausible;
  feed.isCut = before.isCut;
  feed.pace = before.pace;
}

/**
 * Takes what a message says.
 *
 * @returns Why it was ignored; null: it is the new value.
 */
export function take(feed: Feed, arrival: Arrival): IgnoredReason | null {
  const isOther = feed.topic !== arrival.topic;
  if (isOther && feed.topic !== null && !isExpired(feed, arrival)) return "other-topic";
  const decoded = decodePayload(arrival.payload, feed.reader);
  if (decoded.kind === "ignored") return decoded.reason;
  const stamp = stampOf(feed, arrival, isOther);
  if (typeof stamp === "string") return stamp;
  if (arrival.isRetained) return takeRetained(feed, decoded.value, arrival);
  if (isOther) turnTo(feed, arrival.topic);
  if (stamp !== null) feed.newestStampMs = Math.max(stamp, newestStamp(feed, arrival));
  const doubt = doubtOf(feed, decoded.value, stamp ?? arrival.nowMs);
  if (doubt !== null) {
    feed.isImplausible = true;
    // A wildcard stays open until one topic has said something that can be believed.
    if (isOther) feed.topic = null;
    return doubt;
  }
  if (feed.value !== decoded.value || feed.isRetained) feed.changedAtMs = arrival.nowMs;
  feed.value = decoded.value;
  feed.atMs = arrival.nowMs;
  feed.stampMs = stamp;
  feed.isRetained = false;
  feed.isImplausible = false;
  feed.isCut = false;
  return null;
}

/**
 * A retained message may be days old, so it never takes the place of a live value, and never makes
 * a reading fresh; it only fills a feed that had nothing live, for a person to see.
 */
function takeRetained(feed: Feed, value: SignalValue, { nowMs }: Arrival): IgnoredReason | null {
  if (!isInRange(value, feed.settings)) return "out-of-range";
  if (feed.value !== null && !feed.isRetained) return "retained";
  feed.value = value;
  feed.atMs = nowMs;
  feed.changedAtMs = nowMs;
  feed.isRetained = true;
  return null;
}

function turnTo(feed: Feed, topic: string): void {
  feed.topic = topic;
  feed.newestStampMs = Number.NEGATIVE_INFINITY;
  feed.pace = createPace();
}

/** @returns The stamp, null where the settings name none, or why the message is ignored. */
function stampOf(feed: Feed, arrival: Arrival, isOther: boolean): number | null | IgnoredReason {
  if (feed.stampReader === null) return null;
  const stampMs = readStamp(arrival.payload, feed.stampReader);
  if (stampMs === null) return "bad-stamp";
  const { wallMs } = arrival;
  if (wallMs !== null && stampMs > wallMs + feed.stampReader.aheadMaxMs) return "stamp-ahead";
  return !isOther && stampMs < newestStamp(feed, arrival) ? "out-of-order" : stampMs;
}

/** The newest stamp seen, unless our clock, right again, shows that it cannot have been. */
function newestStamp(feed: Feed, { wallMs }: Instant): number {
  const aheadMaxMs = feed.stampReader?.aheadMaxMs ?? 0;
  const isImpossible = wallMs !== null && feed.newestStampMs > wallMs + aheadMaxMs;
  return isImpossible ? Number.NEGATIVE_INFINITY : feed.newestStampMs;
}

function doubtOf(feed: Feed, value: SignalValue, takenMs: number): IgnoredReason | null {
  const { settings, pace } = feed;
  if (!isInRange(value, settings)) {
    breakStep(pace);
    return "out-of-range";
  }
  const limit = settings.maxChange;
  if (limit === null || typeof value !== "number") return null;
  return paceAllows(pace, limit, { value, atMs: takenMs }) ? null : "too-fast";
}

export function isInRange(
  value: SignalValue,
  range: { readonly min: number; readonly max: number },
): boolean {
  return typeof value !== "number" || (value >= range.min && value <= range.max);
}

/** The connection was lost: what speaks on change only is in doubt until it speaks again. */
export function cutFeed(feed: Feed): void {
  if (feed.settings.staleMs === null && feed.value !== null) feed.isCut = true;
}

/** Since it arrived or, if that is longer, since the publisher took it. [ms] ≥ 0 */
export function ageOf(feed: Feed, { nowMs, wallMs }: Instant): number {
  const sinceArrivalMs = Math.max(0, nowMs - feed.atMs);
  if (wallMs === null || feed.stampMs === null) return sinceArrivalMs;
  return Math.max(sinceArrivalMs, wallMs - feed.stampMs);
}

export function qualityOf(feed: Feed, instant: Instant, moves: Moves): Quality {
  if (feed.isImplausible) return "implausible";
  if (feed.value === null) return "waiting";
  if (feed.isRetained) return "retained";
  if (feed.isCut || isTooOld(feed, instant)) return "stale";
  return isFrozen(feed, instant, moves) ? "frozen" : "fresh";
}

function isExpired(feed: Feed, instant: Instant): boolean {
  return feed.value === null || feed.isRetained || feed.isCut || isTooOld(feed, instant);
}

function isTooOld(feed: Feed, instant: Instant): boolean {
  const { staleMs } = feed.settings;
  return staleMs !== null && ageOf(feed, instant) > staleMs;
}

function isFrozen(feed: Feed, { nowMs }: Instant, moves: Moves): boolean {
  const { frozenMs } = feed.settings;
  if (frozenMs === null || nowMs - feed.changedAtMs <= frozenMs) return false;
  return moves.hasOtherMovedSince(feed.signalIndex, feed.changedAtMs);
}
