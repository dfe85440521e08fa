/**
 * How much of a lead-acid battery's charge is really there, against a monitor that reads too high.
 *
 * The problem: monitors count every charge with one efficiency, but the nearer to full, the more of
 * the current makes gas. A battery that is cycled near the top for days without a full charge has
 * less in it than the monitor says, until a completed charge sets it right; a load that is started
 * on that difference runs on the reserve.
 *
 * So a second count stores less of the charge towards full, follows the monitor down but never up,
 * and begins anew where a charge was completed, at what a lead-acid battery holds then: less than
 * all. Where the count stood just before, against that, tells how much this battery loses: with
 * losses as its settings say it would end too low, or too high, each time.
 *
 * @source J. Stevens & G. Corey, "A study of lead-acid battery efficiency near top-of-charge"
 * (1996): only that the efficiency is high at low charge and falls towards full; the form is ours
 * @check test/control/stored-charge.test.ts
 */
import type { BatteryMemory } from "./memory.ts";
import type { Observation } from "./observation.ts";
import type { BatterySettings } from "./settings.ts";

const MS_PER_HOUR = 3_600_000;
/**
 * Held by a lead-acid battery whose absorption has ended, by tail current or time: the rest takes
 * many hours more, and no load waits for it. Common practice, no source. [1]
 */
export const COMPLETED_FRACTION = 0.97;
/** It never speaks against the monitor by more: a current sensor may have its own offset. [1] */
const UNDER_MONITOR_MAX = 0.12;
/** From so little lost nothing is learned of it. [1] Ours, no source */
const LOST_MIN = 0.03;
/** What one completed charge counts against those before. [1] Ours, no source */
const WEIGHT = 0.2;
/** One charge speaks for no more than this beside what was believed. [1] Ours, no source */
const SURPRISE_MAX = 0.5;
const LOSS_FACTOR_MIN = 0.5;
const LOSS_FACTOR_MAX = 1.5;

export type StoredCharge = Pick<
  BatteryMemory,
  "storedFraction" | "lossFactor" | "lostFraction" | "isFull"
>;

export interface StoredChargeInput {
  readonly battery: BatterySettings;
  readonly dtMs: number;
  readonly isFull: boolean;
}

/**
 * Share of a charging current that is stored: all of it far from full, then falling in a straight
 * line to nothing at full, so that the mean over a whole charge is the settings' efficiency.
 *
 * @returns [1] 0…1
 */
export function storedShare(fraction: number, battery: BatterySettings): number {
  if (battery.chemistry === "lfp") return battery.coulombicEfficiencyFraction;
  const topFraction = 2 * (1 - battery.coulombicEfficiencyFraction);
  return Math.min(1, (1 - fraction) / topFraction);
}

/**
 * @param saidFraction - What monitor or count say. [1]
 * @returns the second count after this tick; null: lithium, or nothing known yet. [1] 0…1
 */
export function storedFraction(
  memory: StoredCharge,
  observation: Observation,
  input: StoredChargeInput & { readonly saidFraction: number | null },
): number | null {
  const { battery, isFull, saidFraction } = input;
  if (battery.chemistry === "lfp" || saidFraction === null) return null;
  const before = memory.storedFraction;
  if (isFull && !memory.isFull) return Math.min(saidFraction, COMPLETED_FRACTION);
  if (before === null) return saidFraction;
  const flow = flowed(observation, input);
  const lost = memory.lossFactor * lostNow(before, observation, input);
  // Charging takes nothing out, however much of it is lost.
  const after = before + (flow > 0 ? Math.max(0, flow - lost) : flow);
  // While it stays full it may only become fuller than that.
  const least = isFull ? COMPLETED_FRACTION : saidFraction - UNDER_MONITOR_MAX;
  return Math.min(saidFraction, Math.max(least, after));
}

/**
 * Charge lost since the last completed one if losses were as the settings say, as a share of the
 * capacity; null: not known, because no charge was completed yet or some current was not seen.
 *
 * @param isSeen - Nothing flowed unseen in this tick.
 * @returns [1] ≥ 0
 */
export function lostFractionAfter(
  memory: StoredCharge,
  observation: Observation,
  input: StoredChargeInput & { readonly isSeen: boolean },
): number | null {
  if (input.battery.chemistry === "lfp") return null;
  if (input.isFull) return 0;
  const { storedFraction, lostFraction } = memory;
  if (!input.isSeen || storedFraction === null || lostFraction === null) return null;
  return lostFraction + lostNow(storedFraction, observation, input);
}

/**
 * Losses of this battery over those by its settings, learned where a charge is completed.
 *
 * @returns [1] 0.5…1.5
 */
export function lossFactorAfter(memory: StoredCharge, isFull: boolean): number {
  const { storedFraction, lossFactor, lostFraction } = memory;
  const isCompleted = isFull && !memory.isFull;
  if (!isCompleted || storedFraction === null || lostFraction === null) return lossFactor;
  if (lostFraction < LOST_MIN) return lossFactor;
  const surprise = (storedFraction - COMPLETED_FRACTION) / lostFraction;
  const counted = Math.min(SURPRISE_MAX, Math.max(-SURPRISE_MAX, surprise));
  return Math.min(LOSS_FACTOR_MAX, Math.max(LOSS_FACTOR_MIN, lossFactor + WEIGHT * counted));
}

/** What was kept over a restart; as the settings say where nothing was. [1] 0.5…1.5 */
export function restoredLossFactor(saved: number | null): number {
  return saved === null ? 1 : Math.min(LOSS_FACTOR_MAX, Math.max(LOSS_FACTOR_MIN, saved));
}

/** Charge that flowed in, as a share of the capacity; 0 where no current is known. [1] */
function flowed(observation: Observation, { battery, dtMs }: StoredChargeInput): number {
  const { quality, value } = observation.battery.currentA;
  return quality === "fresh" ? (value * dtMs) / MS_PER_HOUR / battery.capacityAh : 0;
}

function lostNow(before: number, observation: Observation, input: StoredChargeInput): number {
  const charged = Math.max(0, flowed(observation, input));
  return charged === 0 ? 0 : charged * (1 - storedShare(before, input.battery));
}
