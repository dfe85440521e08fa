/**
 * The table of latest values: messages write it as they come, the tick reads it at its own pace.
 * Writing the same value twice, or an old one again, does no harm beyond renewing its age.
 */
import type { SignalKey } from "../../config/signals.ts";
import type { SignalSettings } from "../../config/site-settings.ts";
import type { ChargeStage, Reading } from "../control/observation.ts";
import type { ControlSettings } from "../control/settings.ts";
import { cutFeed, take } from "./feed.ts";
import type { Arrival, Instant } from "./feed.ts";
import { zeroCounts } from "./ignored.ts";
import type { IgnoredCounts } from "./ignored.ts";
import { knownFeeds, takeOverFeeds } from "./known-feeds.ts";
import type { KnownFeed } from "./known-feeds.ts";
import { createMoves } from "./moves.ts";
import type { Moves } from "./moves.ts";
import { openPayload } from "./payload.ts";
import type { SignalValue } from "./payload.ts";
import { createRoutes } from "./routes.ts";
import { choose, createRow, nameOf, rowName, tapsOf } from "./row.ts";
import type { Row, Tap } from "./row.ts";
import { valueOf } from "./sensor.ts";
import type { SensorReading } from "./sensor.ts";
import { viewOf } from "./views.ts";
import type { SignalView } from "./views.ts";

export interface TableOptions {
  readonly signals: readonly SignalSettings[];
  readonly control: ControlSettings;
  /** Monotonic time. [ms] */
  readonly nowMs: () => number;
  /** null while our wall clock cannot be right. [ms since 1970-01-01T00:00:00Z] */
  readonly wallMs: () => number | null;
  /** A value crossed an interlock's limit: the next tick should not wait. */
  readonly requestTick: () => void;
  /** A signal is read from another of its sensors than before. */
  readonly onSensorChange: (change: SensorChange) => void;
}

export interface SensorChange {
  readonly signal: SignalSettings;
  /** Places in the signal's list of sensors. */
  readonly from: number;
  readonly to: number;
}

export interface Message {
  readonly topic: string;
  readonly payload: Uint8Array;
  readonly isRetained: boolean;
}

export interface LatestTable {
  /** Topics and filters to subscribe to. */
  readonly topics: readonly string[];
  readonly receive: (message: Message) => void;
  /** What another table knew, under other settings, of signals that are read as there. */
  readonly takeOver: (before: LatestTable) => void;
  readonly knownFeeds: () => readonly KnownFeed[];
  /** The connection to the broker was lost. */
  readonly cut: () => void;
  readonly readNumber: (key: SignalKey, ownerId: string | null) => Reading;
  readonly readBoolean: (key: SignalKey, ownerId: string | null) => Reading<boolean>;
  readonly readStage: (key: SignalKey, ownerId: string | null) => Reading<ChargeStage>;
  readonly views: () => readonly SignalView[];
  readonly receivedCount: () => number;
  readonly ignoredCounts: () => Readonly<IgnoredCounts>;
}

export function createLatestTable(options: TableOptions): LatestTable {
  const moves = createMoves();
  const rows = options.signals.map((signal, index) => createRow(signal, index, options.control));
  const byName = new Map(rows.map((row) => [nameOf(row), row]));
  const taps = rows.flatMap(tapsOf);
  const routes = createRoutes(
    taps.map((tap) => ({ filter: tap.feed.settings.topic, reader: tap })),
  );
  const shared: Shared = { moves, ignoredCounts: zeroCounts() };
  const { ignoredCounts } = shared;
  let receivedCount = 0;
  const now = (): Instant => ({ nowMs: options.nowMs(), wallMs: options.wallMs() });

  const read = <T extends SignalValue>(name: string, kind: ValueKind<T>): Reading<T> => {
    const row = byName.get(name);
    if (row === undefined) return { value: kind.filler, quality: "unmapped", ageMs: 0 };
    const { place, reading } = choose(row, now(), moves);
    if (place !== row.sensorInUse) options.onSensorChange(turnToSensor(row, place));
    return readingAs(reading, kind);
  };

  return {
    topics: routes.filters,
    receive({ topic, payload, isRetained }) {
      receivedCount += 1;
      const found = routes.of(topic);
      if (found.length === 0) {
        ignoredCounts["unmapped-topic"] += 1;
        return;
      }
      // Written out: spreading an object here would cost more than all the rest.
      const arrival: Arrival = {
        nowMs: options.nowMs(),
        wallMs: options.wallMs(),
        topic,
        payload: openPayload(payload),
        isRetained,
      };
      let isUrgent = false;
      for (const tap of found) if (write(tap, arrival, shared)) isUrgent = true;
      if (isUrgent) options.requestTick();
    },
    takeOver(before) {
      takeOverFeeds(knownFeeds(taps), before.knownFeeds());
      receivedCount = before.receivedCount();
      Object.assign(ignoredCounts, before.ignoredCounts());
    },
    knownFeeds: () => knownFeeds(taps),
    cut() {
      for (const { feed } of taps) cutFeed(feed);
    },
    readNumber: (key, ownerId) => read(rowName(key, ownerId), NUMBER),
    readBoolean: (key, ownerId) => read(rowName(key, ownerId), BOOLEAN),
    readStage: (key, ownerId) => read(rowName(key, ownerId), STAGE),
    views() {
      const instant = now();
      return rows.map((row) => viewOf(row, instant, moves));
    },
    receivedCount: () => receivedCount,
    ignoredCounts: () => ({ ...ignoredCounts }),
  };
}

function turnToSensor(row: Row, to: number): SensorChange {
  const from = row.sensorInUse;
  row.sensorInUse = to;
  row.sensorChangeCount += 1;
  return { signal: row.signal, from, to };
}

/** What all rows write into. */
interface Shared {
  readonly moves: Moves;
  readonly ignoredCounts: IgnoredCounts;
}

/** @returns The tick should not wait. */
function write(tap: Tap, arrival: Arrival, { moves, ignoredCounts }: Shared): boolean {
  const { row, feed } = tap;
  const { isImplausible: wasImplausible, value: before, isRetained: wasRetained } = feed;
  const ignored = take(feed, arrival);
  if (ignored === null) {
    // A first value is no move: nothing is known of the time before.
    const isMove = row.isNeighbour && before !== null && !wasRetained && feed.value !== before;
    if (isMove) moves.note(feed.signalIndex, arrival.nowMs);
    return !arrival.isRetained && hasCrossed(tap);
  }
  row.ignoredCounts[ignored] += 1;
  ignoredCounts[ignored] += 1;
  return feed.isImplausible && !wasImplausible && row.isPastLimit !== null;
}

/** A limit was crossed now, and not before. */
function hasCrossed({ row, sensor }: Tap): boolean {
  if (row.isPastLimit === null) return false;
  const value = valueOf(sensor);
  const isPast = value !== null && row.isPastLimit(value);
  const isNews = isPast && !sensor.wasPastLimit;
  sensor.wasPastLimit = isPast;
  return isNews;
}

interface ValueKind<T> {
  readonly filler: T;
  readonly is: (value: SignalValue) => value is T & SignalValue;
}

const NUMBER: ValueKind<number> = { filler: 0, is: (value) => typeof value === "number" };
const BOOLEAN: ValueKind<boolean> = { filler: false, is: (value) => typeof value === "boolean" };
const STAGE: ValueKind<ChargeStage> = { filler: "bulk", is: (value) => typeof value === "string" };

function readingAs<T extends SignalValue>(
  { value, quality, ageMs }: SensorReading,
  kind: ValueKind<T>,
): Reading<T> {
  if (value === null) return { value: kind.filler, quality, ageMs: 0 };
  if (kind.is(value)) return { value, quality, ageMs };
  // A value of another type can only come from wrong settings: it is as good as none.
  return { value: kind.filler, quality: "implausible", ageMs: 0 };
}
