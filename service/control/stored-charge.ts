/**
 * How much of a lead-acid battery's charge is really there, against a monitor that reads too high.
 *
 * The problem: monitors count every charge with one efficiency, but the nearer to full, the more of
 * the current makes gas. A battery that is cycled near the top for days without a full charge has
 * less in it than the monitor says, until a completed charge sets it right; a load that is started
 * on that difference runs on the reserve.
 *
 * So a second count stores less of the charge towards full, follows the monitor down but never up,
 * and begins anew at a full charge. Where it is wrong it reads low: the battery is charged more.
 *
 * @source J. Stevens & G. Corey, "A study of lead-acid battery efficiency near top-of-charge"
 * (1996): only that the efficiency is high at low charge and falls towards full; the form is ours
 * @check test/control/stored-charge.test.ts
 */
import type { Observation } from "./observation.ts";
import type { BatterySettings } from "./settings.ts";

const MS_PER_HOUR = 3_600_000;
/** It never speaks against the monitor by more: a current sensor may have its own offset. [1] */
const UNDER_MONITOR_MAX = 0.12;

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

/** @returns the second count after this tick; null: lithium, or nothing known yet. [1] 0…1 */
export function storedFraction(
  before: number | null,
  observation: Observation,
  input: {
    readonly battery: BatterySettings;
    readonly dtMs: number;
    readonly isFull: boolean;
    /** What monitor or count say. [1] */
    readonly saidFraction: number | null;
  },
): number | null {
  const { battery, dtMs, isFull, saidFraction } = input;
  if (battery.chemistry === "lfp" || saidFraction === null) return null;
  if (isFull || before === null) return saidFraction;
  const { quality, value } = observation.battery.currentA;
  const flowedA = quality === "fresh" ? value : 0;
  const storedA = flowedA > 0 ? flowedA * storedShare(before, battery) : flowedA;
  const after = before + (storedA * dtMs) / MS_PER_HOUR / battery.capacityAh;
  return Math.min(saidFraction, Math.max(saidFraction - UNDER_MONITOR_MAX, after));
}
