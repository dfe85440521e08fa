/** One signal in the table: its sensors, which of them is read, and what was ignored of it. */
import type { SignalKey } from "../../config/signals.ts";
import type { SignalSettings } from "../../config/site-settings.ts";
import type { ControlSettings } from "../control/settings.ts";
import type { Feed, Instant } from "./feed.ts";
import { zeroCounts } from "./ignored.ts";
import type { IgnoredCounts } from "./ignored.ts";
import { limitOf } from "./limits.ts";
import type { IsPastLimit } from "./limits.ts";
import { isNeighbour } from "./moves.ts";
import type { Moves } from "./moves.ts";
import { createSensor, readSensor } from "./sensor.ts";
import type { Sensor, SensorReading } from "./sensor.ts";

export interface Row {
  readonly signal: SignalSettings;
  readonly isPastLimit: IsPastLimit | null;
  readonly isNeighbour: boolean;
  readonly sensors: readonly Sensor[];
  readonly ignoredCounts: IgnoredCounts;
  sensorInUse: number;
  sensorChangeCount: number;
}

/** Everything that one message on a topic may change. */
export interface Tap {
  readonly row: Row;
  readonly sensor: Sensor;
  readonly feed: Feed;
}

export function createRow(signal: SignalSettings, index: number, control: ControlSettings): Row {
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

export function tapsOf(row: Row): readonly Tap[] {
  return row.sensors.flatMap((sensor) => sensor.feeds.map((feed) => ({ row, sensor, feed })));
}

/** Of the row's signal, with the owner. */
export function nameOf({ signal }: Row): string {
  return rowName(signal.key, signal.ownerId);
}

export function rowName(key: SignalKey, ownerId: string | null): string {
  return ownerId === null ? key : `${key} ${ownerId}`;
}

/** The first sensor that is fresh; while none is, the one that was read before. */
export function choose(
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
