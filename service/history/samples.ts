/** Least, mean and greatest of every figure over each minute. */
import type { Figure } from "./signal-walk.ts";

export interface Sample {
  /** Minutes since 1970-01-01T00:00Z. */
  readonly minute: number;
  readonly name: string;
  readonly perUnit: number;
  /** In parts of `perUnit`. */
  readonly mean: number;
  readonly below: number;
  readonly above: number;
}

export interface Sampler {
  /** @returns The minute before, once a tick of another minute has come. */
  readonly add: (tick: {
    readonly figures: readonly Figure[];
    readonly wallMs: number;
    readonly monotonicMs: number;
  }) => Sample[];
  /** The minute that has begun, as far as it goes. */
  readonly finish: () => Sample[];
}

interface Sum {
  least: number;
  greatest: number;
  weighted: number;
  weightMs: number;
}

const MINUTE_MS = 60_000;
/**
 * Parts of a unit that are kept, by the unit at the end of a name: finer than meters are, and few
 * enough for a number to fit into two or three bytes.
 */
const PER_UNIT: readonly (readonly [ending: string, parts: number])[] = [
  ["Fraction", 10_000],
  ["Wh", 1],
  ["W", 10],
  ["V", 1_000],
  ["Hz", 1_000],
  ["A", 100],
  ["C", 100],
  ["LPerMin", 100],
];
const PER_UNIT_OTHERWISE = 1_000;

export function createSampler(): Sampler {
  const sums = new Map<string, Sum>();
  let minute: number | null = null;
  let lastMs: number | null = null;

  const finish = (): Sample[] => {
    const samples = [...sums].map(([name, sum]) => sampleOf(minute ?? 0, name, sum));
    sums.clear();
    return samples;
  };

  return {
    add({ figures, wallMs, monotonicMs }) {
      const tickMinute = Math.floor(wallMs / MINUTE_MS);
      const finished = minute !== null && tickMinute !== minute ? finish() : [];
      minute = tickMinute;
      // Ticks that come early must not weigh more than their time; none weighs nothing.
      const sinceMs = lastMs === null ? 1 : monotonicMs - lastMs;
      const weightMs = Math.min(Math.max(sinceMs, 1), MINUTE_MS);
      lastMs = monotonicMs;
      for (const { name, value } of figures) addTo(sums, { name, value, weightMs });
      return finished;
    },
    finish,
  };
}

function addTo(
  sums: Map<string, Sum>,
  one: { readonly name: string; readonly value: number; readonly weightMs: number },
): void {
  const { name, value, weightMs } = one;
  const sum = sums.get(name);
  if (sum === undefined) {
    sums.set(name, { least: value, greatest: value, weighted: value * weightMs, weightMs });
    return;
  }
  sum.least = Math.min(sum.least, value);
  sum.greatest = Math.max(sum.greatest, value);
  sum.weighted += value * weightMs;
  sum.weightMs += weightMs;
}

function sampleOf(minute: number, name: string, sum: Sum): Sample {
  const perUnit = PER_UNIT.find(([ending]) => name.endsWith(ending))?.[1] ?? PER_UNIT_OTHERWISE;
  const mean = Math.round((sum.weighted / sum.weightMs) * perUnit);
  const below = Math.max(0, mean - Math.round(sum.least * perUnit));
  const above = Math.max(0, Math.round(sum.greatest * perUnit) - mean);
  return { minute, name, perUnit, mean, below, above };
}
