/**
 * The table of latest values: messages write it as they come, the tick reads it at its own pace.
 * Writing the same value twice, or an old one again, does no harm beyond renewing its age.
 */
import type { SignalKey } from "../../config/signals.ts";
import type { SignalSettings } from "../../config/site-settings.ts";
import type { ChargeStage, Quality, Reading } from "../control/observation.ts";
import type { ControlSettings } from "../control/settings.ts";
import { cutFeed, feedPrint, take, takeOverFeed } from "./feed.ts";
import type { Arrival, Feed, Instant } from "./feed.ts";
import { countsThatRose, sumOfCounts, zeroCounts } from "./ignored.ts";
import type { IgnoredCounts } from "./ignored.ts";
import { limitOf } from "./limits.ts";
import type { IsPastLimit } from "./limits.ts";
import { createMoves, isNeighbour } from "./moves.ts";
import type { Moves } from "./moves.ts";
import { openPayload } from "./payload.ts";
import type { SignalValue } from "./payload.ts";
import { createRoutes } from "./routes.ts";
import { createSensor, readSensor, valueOf } from "./sensor.ts";
import type { Sensor, SensorReading } from "./sensor.ts";

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

/** One sensor of a signal, for people. */
export interface SensorView {
  readonly value: SignalValue | null;
  readonly quality: Quality;
  /** null: nothing has arrived. [ms] */
  readonly ageMs: number | null;
  /** What each feed is read from: its topic or, for a wildcard that none has met, the filter. */
  readonly topics: readonly string[];
}

/** One mapped signal, for people. */
export interface SignalView extends Omit<SensorView, "topics"> {
  readonly signal: SignalSettings;
  readonly sensors: readonly SensorView[];
  /** Place of the one that is read. */
  readonly sensorInUse: number;
  readonly sensorChangeCount: number;
  readonly ignoredCount: number;
  /** Of that, by reason; those that never came are left out. */
  readonly ignoredCounts: Partial<IgnoredCounts>;
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

export interface KnownFeed {
  /** Of its signal, with the owner. */
  readonly name: string;
  readonly feed: Feed;
}

interface Row {
  readonly signal: SignalSettings;
  readonly isPastLimit: IsPastLimit | null;
  readonly isNeighbour: boolean;
  readonly sensors: readonly Sensor[];
  readonly ignoredCounts: IgnoredCounts;
  sensorInUse: number;
  sensorChangeCount: number;
}

/** Everything that one message on a topic may change. */
interface Tap {
  readonly row: Row;
  readonly sensor: Sensor;
  readonly feed: Feed;
}

export function createLatestTable(options: TableOptions): LatestTable {
  const moves = createMoves();
  const rows = options.signals.map((signal, index) => createRow(signal, index, options.control));
  const byName = new Map(rows.map((row) => [rowName(row.signal.key, row.signal.ownerId), row]));
  const taps = rows.flatMap(tapsOf);
  const routes = createRoutes(
    taps.map((tap) => ({ filter: tap.feed.settings.topic, reader: tap })),
  );
  const ignoredCounts = zeroCounts();
  let receivedCount = 0;
  const now = (): Instant => ({ nowMs: options.nowMs(), wallMs: options.wallMs() });

  /** @returns The tick should not wait. */
  const write = (tap: Tap, arrival: Arrival): boolean => {
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
  };

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
      for (const tap of found) if (write(tap, arrival)) isUrgent = true;
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

function createRow(signal: SignalSettings, index: number, control: ControlSettings): Row {
  return {
    signal,
    isPastLimit: limitOf(signal, control),
    isNeighbour: isNeighbour(signal.key),
    sensors: signal.sensors.map((sensor) => createSensor(sensor, index)),
    ignoredCounts: zeroCounts(),
    sensorInUse: 0,
    sensorChangeCount: 0,
  };
}

function tapsOf(row: Row): readonly Tap[] {
  return row.sensors.flatMap((sensor) => sensor.feeds.map((feed) => ({ row, sensor, feed })));
}

function knownFeeds(taps: readonly Tap[]): readonly KnownFeed[] {
  return taps.map(({ row, feed }) => ({ name: nameOf(row), feed }));
}

function takeOverFeeds(feeds: readonly KnownFeed[], before: readonly KnownFeed[]): void {
  const known = new Map(before.map((one) => [printOf(one), one.feed]));
  for (const one of feeds) {
    const same = known.get(printOf(one));
    if (same !== undefined) takeOverFeed(one.feed, same);
  }
}

function nameOf({ signal }: Row): string {
  return rowName(signal.key, signal.ownerId);
}

function printOf({ name, feed }: KnownFeed): string {
  return `${name} ${feedPrint(feed)}`;
}

function rowName(key: SignalKey, ownerId: string | null): string {
  return ownerId === null ? key : `${key} ${ownerId}`;
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

/** The first sensor that is fresh; while none is, the one that was read before. */
function choose(
  row: Row,
  instant: Instant,
  moves: Moves,
): { readonly place: number; readonly reading: SensorReading } {
  let before: SensorReading = NO_READING;
  for (const [place, sensor] of row.sensors.entries()) {
    const reading = readSensor(sensor, instant, moves);
    if (reading.quality === "fresh") return { place, reading };
    if (place === row.sensorInUse) before = reading;
  }
  return { place: row.sensorInUse, reading: before };
}

const NO_READING: SensorReading = { value: null, quality: "waiting", ageMs: 0 };

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

function viewOf(row: Row, instant: Instant, moves: Moves): SignalView {
  const { place, reading } = choose(row, instant, moves);
  return {
    ...withoutAge(reading),
    signal: row.signal,
    sensors: row.sensors.map((sensor) => ({
      ...withoutAge(readSensor(sensor, instant, moves)),
      topics: sensor.feeds.map(({ topic, settings }) => topic ?? settings.topic),
    })),
    sensorInUse: place,
    sensorChangeCount: row.sensorChangeCount,
    ignoredCount: sumOfCounts(row.ignoredCounts),
    ignoredCounts: countsThatRose(row.ignoredCounts),
  };
}

/** A value that is not there has no age. */
function withoutAge({ value, quality, ageMs }: SensorReading): Omit<SensorView, "topics"> {
  return { value, quality, ageMs: value === null ? null : ageMs };
}
