/**
 * Everyday use at the goat dairy, minute by minute: what always runs, the two milkings, a milk
 * cooler that cycles, and things that people switch on when they like.
 *
 * Powers and hours are ours, chosen to be plausible for one family and sixty goats; no source.
 */
import type { Random } from "./random.ts";

const MINUTES_PER_DAY = 1440;

/** Fridge, pumps, router, standby. [W] */
const ALWAYS_W = 120;

interface Habit {
  readonly powerW: number;
  readonly minutes: readonly [min: number, max: number];
  /** When it may begin, and how often in a day. [min after midnight] */
  readonly from: number;
  readonly to: number;
  readonly times: readonly [min: number, max: number];
}

const HABITS: readonly Habit[] = [
  // Milking machine, morning and evening.
  { powerW: 1100, minutes: [70, 95], from: 330, to: 350, times: [1, 1] },
  { powerW: 1100, minutes: [65, 90], from: 1000, to: 1020, times: [1, 1] },
  // Kettle.
  { powerW: 1800, minutes: [2, 4], from: 360, to: 1290, times: [3, 6] },
  // Hotplate at noon and in the evening.
  { powerW: 1200, minutes: [15, 35], from: 690, to: 750, times: [0, 1] },
  { powerW: 1200, minutes: [20, 40], from: 1120, to: 1180, times: [0, 1] },
  // Washing of vats and churns.
  { powerW: 700, minutes: [15, 30], from: 450, to: 520, times: [1, 1] },
  // Workshop and small tools.
  { powerW: 900, minutes: [5, 25], from: 540, to: 960, times: [0, 3] },
  // Washing machine, its heating part.
  { powerW: 2000, minutes: [18, 24], from: 540, to: 900, times: [0, 1] },
  // Light.
  { powerW: 90, minutes: [150, 210], from: 1200, to: 1230, times: [1, 1] },
];

const COOLER = { powerW: 280, onMin: 12, offMin: [18, 34] } as const;

/** One value for each minute after local midnight. [W] ≥ 0 */
export function householdMinutes(random: Random): Float64Array {
  const power = new Float64Array(MINUTES_PER_DAY).fill(ALWAYS_W);
  for (const habit of HABITS) {
    const times = Math.round(random.between(habit.times[0] - 0.5, habit.times[1] + 0.499));
    for (let i = 0; i < times; i += 1) {
      const start = Math.round(random.between(habit.from, habit.to));
      const to = start + Math.round(random.between(...habit.minutes));
      add(power.subarray(start, to), habit.powerW);
    }
  }
  let minute = Math.round(random.between(0, COOLER.offMin[1]));
  while (minute < MINUTES_PER_DAY) {
    add(power.subarray(minute, minute + COOLER.onMin), COOLER.powerW);
    minute += COOLER.onMin + Math.round(random.between(...COOLER.offMin));
  }
  return power;
}

function add(minutes: Float64Array, powerW: number): void {
  for (let i = 0; i < minutes.length; i += 1) minutes[i] = (minutes[i] ?? 0) + powerW;
}
