/** The table for people: each signal with its sensors, how far it is trusted, what was ignored. */
import type { SignalSettings } from "../../config/site-settings.ts";
import type { Quality } from "../control/observation.ts";
import type { Instant } from "./feed.ts";
import { countsThatRose, sumOfCounts } from "./ignored.ts";
import type { IgnoredCounts } from "./ignored.ts";
import type { Moves } from "./moves.ts";
import type { SignalValue } from "./payload.ts";
import { choose } from "./row.ts";
import type { Row } from "./row.ts";
import { readSensor } from "./sensor.ts";
import type { SensorReading } from "./sensor.ts";

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

export function viewOf(row: Row, instant: Instant, moves: Moves): SignalView {
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
