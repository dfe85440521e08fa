/**
 * How clear the rest of a day is going to be: what is likely, and what is on the cautious side.
 *
 * Days that began like this one, in this season, tell how such days went on. Until there are enough
 * of them the sky is taken to stay as it is, with a stated spread: a clear morning is followed by a
 * clear afternoon more often than not, and nobody knows better without a record.
 */
import { invariant } from "../invariant.ts";
import { numberAt } from "../item-at.ts";
import { forecastSkill } from "./forecast.ts";
import type { ForecastSkill } from "./forecast.ts";
import { clearnessOf, PARTS } from "./sky-record.ts";
import type { SkyDay, SkyRecord, SkyToday } from "./sky-record.ts";

export interface Clearness {
  /** [1] ≥ 0 */
  readonly expected: number;
  readonly cautious: number;
}

export interface RestInput {
  readonly record: SkyRecord;
  /** null: nothing has been seen of the day that is asked about. */
  readonly today: SkyToday | null;
  readonly localDay: number;
  /** Where the day stands, 0…12: the part that runs and how much of it is over. */
  readonly position: number;
  /** What a clear sky gives in each part. [Wh] ≥ 0 */
  readonly clearWh: readonly number[];
  /** What a forecast says of the whole day, against a clear sky; null: there is none. [1] */
  readonly forecast: number | null;
  /** Share of days that may turn out below the cautious side. [1] 0…1 */
  readonly tailFraction: number;
}

/** Between these the stated spread gives way to the record. [days] */
const RECORD_FROM = 4;
const RECORD_FULL = 14;
/** Clearness of a day of which nothing is known. [1] Ours, no source */
const USUAL = 0.6;
/** What a day keeps of how it began. [1] Ours, no source */
const PERSISTENCE = 0.75;
/** Spread of the rest of the day about that: one standard deviation. [1] Ours, no source */
const PERSISTENCE_SPREAD = 0.18;
const UNKNOWN_SPREAD = 0.25;
/** Days that began this much clearer or darker count a quarter. [1] */
const LIKENESS = 0.12;
/** Days of which a forecast said so much more or less count a quarter. [1] */
const FORECAST_LIKENESS = 0.1;
/** A day of which no forecast spoke, beside days of which one did. Ours, no source */
const UNSAID = 0.05;
/** A day of which nothing is known in those parts. */
const UNLIKE = 0.25;
/** Days so long ago count a quarter. [days] */
const SEASON_DAYS = 45;
const UNKNOWN = -1;
/** What a part of the day counts against the one after it, in how the day has been so far. */
const FADING = 0.6;

export function restOfDay(input: RestInput): Clearness {
  const { position } = input;
  const seen = input.today === null ? null : seenOf(input.today);
  const soFar = seen === null ? null : soFarOf(seen, position);
  const stated = statedClearness(soFar, input.tailFraction);
  const belief = (input.record.days.length - RECORD_FROM) / (RECORD_FULL - RECORD_FROM);
  if (belief <= 0) return stated;
  const recorded = recordedClearness(input, seen);
  if (recorded === null) return stated;
  const share = Math.min(1, belief);
  return {
    expected: stated.expected + share * (recorded.expected - stated.expected),
    cautious: stated.cautious + share * (recorded.cautious - stated.cautious),
  };
}

function statedClearness(soFar: number | null, tailFraction: number): Clearness {
  const expected = soFar === null ? USUAL : USUAL + PERSISTENCE * (soFar - USUAL);
  const spread = soFar === null ? UNKNOWN_SPREAD : PERSISTENCE_SPREAD;
  // The logistic curve, whose quantiles are near enough to those of the normal one.
  const deviations = Math.log((1 - tailFraction) / tailFraction) / 1.7;
  return { expected, cautious: Math.max(0, expected - deviations * spread) };
}

/** What has been seen of today, by part; −1: nothing. */
function seenOf(today: SkyToday): readonly number[] {
  const seen = new Array<number>(PARTS);
  for (let part = 0; part < PARTS; part += 1) seen[part] = clearnessOf(today, part) ?? UNKNOWN;
  return seen;
}

function recordedClearness(input: RestInput, seen: readonly number[] | null): Clearness | null {
  const belief = beliefIn(input);
  const found = new Mass();
  for (const day of input.record.days) {
    const rest = restOf(day, input);
    if (rest === null) continue;
    const age = (input.localDay - day.localDay) / SEASON_DAYS;
    const likely = likeness(seen, day, input.position) * forecastLikeness(day, input, belief);
    found.add(rest, likely * nearness(age));
  }
  return found.isEmpty ? null : found.clearness(input.tailFraction);
}

/** How much a day began like today, in the parts that are known of both, the last above all. */
function likeness(seen: readonly number[] | null, { clearness }: SkyDay, position: number): number {
  if (seen === null) return 1;
  let ours = 0;
  let theirs = 0;
  let weights = 0;
  let weight = 1;
  for (let part = lastPartOf(position); part >= 0; part -= 1) {
    const our = partOf(seen, part);
    const their = partOf(clearness, part);
    if (our >= 0 && their >= 0) {
      ours += weight * our;
      theirs += weight * their;
      weights += weight;
    }
    weight *= FADING;
  }
  return weights === 0 ? UNLIKE : nearness((theirs / weights - ours / weights) / LIKENESS);
}

/** What the forecast counts for; 0 without one. [1] 0…1 */
function beliefIn({ record, forecast, clearWh }: RestInput): number {
  return forecast === null ? 0 : skillAtSite(record.days, clearWh).belief;
}

/** @param clearWh - What a clear sky gives in each part of a day of this season. [Wh] ≥ 0 */
export function skillAtSite(days: readonly SkyDay[], clearWh: readonly number[]): ForecastSkill {
  return forecastSkill(days, (day) => restOf(day, { position: 0, clearWh }));
}

/** How much the same a forecast said of a day as of the one that is asked about. */
function forecastLikeness(day: SkyDay, { forecast }: RestInput, belief: number): number {
  if (forecast === null || belief === 0) return 1;
  const like =
    day.forecast === null ? UNSAID : nearness((day.forecast - forecast) / FORECAST_LIKENESS);
  return 1 + belief * (like - 1);
}

/** 1 at no distance, a quarter at 1; never quite nothing. */
function nearness(distance: number): number {
  const share = 1 / (1 + distance * distance);
  return share * share;
}

/** How clear today has been up to here, the last hours above all; null: nothing was seen. [1] */
function soFarOf(seen: readonly number[], position: number): number | null {
  let sum = 0;
  let weights = 0;
  let weight = 1;
  for (let part = lastPartOf(position); part >= 0; part -= 1) {
    const our = partOf(seen, part);
    if (our >= 0) {
      sum += weight * our;
      weights += weight;
    }
    weight *= FADING;
  }
  return weights === 0 ? null : sum / weights;
}

/** The part of the day that runs. */
function lastPartOf(position: number): number {
  return Math.min(PARTS - 1, Math.floor(position));
}

/** How clear the rest of a recorded day was, weighted by today's sun; null: not known. */
export function restOf(
  day: SkyDay,
  { position, clearWh }: Pick<RestInput, "position" | "clearWh">,
): number | null {
  const first = lastPartOf(position);
  let weight = (1 - (position - first)) * numberAt(clearWh, first);
  let sum = 0;
  let weights = 0;
  for (let part = first; part < PARTS; part += 1) {
    if (part > first) weight = numberAt(clearWh, part);
    const value = partOf(day.clearness, part);
    if (value < 0 || weight <= 0) continue;
    sum += weight * value;
    weights += weight;
  }
  return weights === 0 ? null : sum / weights;
}

/** Not by `numberAt`: every day of the record is asked for each of its parts, again and again. */
function partOf(day: readonly number[], part: number): number {
  const clearness = day[part];
  invariant(clearness !== undefined, "a day must have all its parts");
  return clearness;
}

const BUCKETS = 65;
const PER_UNIT = 50;

function noMasses(): number[] {
  const masses = new Array<number>(BUCKETS);
  for (let bucket = 0; bucket < BUCKETS; bucket += 1) masses[bucket] = 0;
  return masses;
}

/** Weighted values in narrow buckets: a quantile without sorting. */
class Mass {
  readonly #masses = noMasses();
  #whole = 0;
  #moment = 0;

  get isEmpty(): boolean {
    return this.#whole === 0;
  }

  add(value: number, weight: number): void {
    const bucket = Math.min(BUCKETS - 1, Math.floor(value * PER_UNIT));
    this.#masses[bucket] = numberAt(this.#masses, bucket) + weight;
    this.#whole += weight;
    this.#moment += weight * value;
  }

  clearness(tailFraction: number): Clearness {
    const wanted = tailFraction * this.#whole;
    let below = 0;
    let bucket = 0;
    let mass = 0;
    for (let index = 0; index < BUCKETS; index += 1) {
      const found = numberAt(this.#masses, index);
      if (found === 0) continue;
      bucket = index;
      mass = found;
      if (below + found >= wanted) break;
      below += found;
    }
    const within = Math.min(1, Math.max(0, (wanted - below) / mass));
    const expected = this.#moment / this.#whole;
    return { expected, cautious: Math.min(expected, (bucket + within) / PER_UNIT) };
  }
}
