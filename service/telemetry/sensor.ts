/**
 * What gives one value of a signal: one feed alone, or several that are added up, averaged, or of
 * which the lowest or highest counts. Several are as good as the worst of them, and as old as the
 * oldest: a sum that lacks a part would be a wrong number, not an old one.
 */
import type { SensorSettings } from "../../config/site-settings.ts";
import type { Quality } from "../control/observation.ts";
import { ageOf, createFeed, isInRange, qualityOf } from "./feed.ts";
import type { Feed, Instant } from "./feed.ts";
import type { Moves } from "./moves.ts";
import type { SignalValue } from "./payload.ts";

export interface Sensor {
  readonly settings: SensorSettings;
  readonly feeds: readonly Feed[];
  /** An interlock's limit was crossed, so that only the next crossing is news. */
  wasPastLimit: boolean;
}

export interface SensorReading {
  /** null: nothing has arrived. */
  readonly value: SignalValue | null;
  readonly quality: Quality;
  /** [ms] ≥ 0; 0 without a value. */
  readonly ageMs: number;
}

/** From the best to the worst. */
const WORSE: Readonly<Record<Quality, number>> = {
  fresh: 0,
  frozen: 1,
  stale: 2,
  retained: 3,
  implausible: 4,
  waiting: 5,
  unmapped: 6,
};

export function createSensor(settings: SensorSettings, signalIndex: number): Sensor {
  const feeds = settings.feeds.map((feed) => createFeed(feed, signalIndex));
  return { settings, feeds, wasPastLimit: false };
}

export function readSensor(sensor: Sensor, instant: Instant, moves: Moves): SensorReading {
  let quality: Quality = "fresh";
  let ageMs = 0;
  for (const feed of sensor.feeds) {
    const own = qualityOf(feed, instant, moves);
    if (WORSE[own] > WORSE[quality]) quality = own;
    if (feed.value !== null) ageMs = Math.max(ageMs, ageOf(feed, instant));
  }
  const value = valueOf(sensor);
  if (value === null) return { value, quality, ageMs: 0 };
  const isWrong = !isInRange(value, sensor.settings);
  return { value, quality: isWrong && quality === "fresh" ? "implausible" : quality, ageMs };
}

/** @returns null while a part is missing. */
export function valueOf({ settings, feeds }: Sensor): SignalValue | null {
  if (settings.combine === "alone") return feeds[0]?.value ?? null;
  const numbers: number[] = [];
  for (const { value } of feeds) {
    if (typeof value !== "number") return null;
    numbers.push(value);
  }
  switch (settings.combine) {
    case "sum":
      return numbers.reduce((sum, value) => sum + value, 0);
    case "lowest":
      return Math.min(...numbers);
    case "highest":
      return Math.max(...numbers);
    case "mean":
      return weightedMean(numbers, feeds);
  }
}

function weightedMean(numbers: readonly number[], feeds: readonly Feed[]): number {
  let sum = 0;
  let weights = 0;
  for (const [index, { settings }] of feeds.entries()) {
    sum += settings.weight * (numbers[index] ?? 0);
    weights += settings.weight;
  }
  return sum / weights;
}
