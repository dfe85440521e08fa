/**
 * What clouds do to a clear sky, minute by minute.
 *
 * Broken cloud is sun and shadow in turn, of random length: many short ones and some long ones.
 * What makes it hard for a controller is kept: deep fast falls, edges that fill part of a minute,
 * and irradiance above the clear sky's beside a bright cloud. Drift of the cloud field in space,
 * and so the smoothing over a large array, is left out: a small site has none.
 */
import type { Random } from "./random.ts";

export const SKY_KINDS = ["clear", "broken", "overcast"] as const;

export type SkyKind = (typeof SKY_KINDS)[number];

/** Global irradiance against the clear sky's, one value a minute. [1] > 0 */
export function cloudMinutes(kind: SkyKind, minutes: number, random: Random): Float64Array {
  switch (kind) {
    case "clear":
      return wandering({ minutes, random, middle: 1, spread: 0.01, step: 0.002 });
    case "overcast":
      return wandering({ minutes, random, middle: 0.28, spread: 0.14, step: 0.012 });
    case "broken":
      return brokenCloud(minutes, random);
  }
}

/** Mean lengths of sun and shadow; every fifth is a long one. [min] */
const SUN_MIN = 4;
const SHADOW_MIN = 4;
const LONG_SHARE = 0.2;
const LONG_FACTOR = 5;

function brokenCloud(minutes: number, random: Random): Float64Array {
  const found = new Float64Array(minutes);
  let isSun = random.uniform() < 0.5;
  let minute = 0;
  let before = isSun ? 1 : 0.5;
  while (minute < minutes) {
    const stretch = random.uniform() < LONG_SHARE ? LONG_FACTOR : 1;
    const length = 1 + Math.floor(random.exponential((isSun ? SUN_MIN : SHADOW_MIN) * stretch));
    const level = isSun ? 1 + Math.min(0.28, random.exponential(0.06)) : random.between(0.22, 0.75);
    // Cloud edges fall anywhere within a minute, whose mean is what is recorded.
    let value = before + (level - before) * random.between(0.15, 1);
    const restlessness = isSun ? 0.008 : 0.03;
    for (let i = 0; i < length && minute < minutes; i += 1) {
      found[minute] = Math.min(1.35, Math.max(0.08, value));
      value = value + 0.5 * (level - value) + random.between(-restlessness, restlessness);
      minute += 1;
    }
    before = value;
    isSun = !isSun;
  }
  return found;
}

/** A slow walk about `middle` that is pulled back before it leaves `spread`. */
function wandering(input: {
  readonly minutes: number;
  readonly random: Random;
  readonly middle: number;
  readonly spread: number;
  readonly step: number;
}): Float64Array {
  const found = new Float64Array(input.minutes);
  let offset = 0;
  for (let minute = 0; minute < input.minutes; minute += 1) {
    const pull = 0.02 * offset;
    offset += input.random.between(-input.step, input.step) - pull;
    offset = Math.min(input.spread, Math.max(-input.spread, offset));
    found[minute] = input.middle + offset;
  }
  return found;
}

/**
 * Share of the clear sky's beam that gets through: none under a dark cloud, all in a gap; what lies
 * above the clear sky beside a cloud is diffuse light. [1] 0…1
 */
export function beamShare(clearIndex: number): number {
  return Math.min(1, Math.max(0, (clearIndex - 0.35) / 0.65));
}
