/**
 * The power that a battery accepts at each state of charge. Far from full it is the charge limit;
 * at the set-point of absorption it falls towards full, and how fast is a matter of chemistry, age
 * and temperature. So a table for the chemistry is only where the site begins, and what is seen at
 * the set-point takes its place.
 */
import { numberAt, numberOrNullAt, withNumberOrNull } from "../item-at.ts";
import type { BatterySettings } from "../settings.ts";

/** The table begins here; below, only the charge limit counts. */
const FROM_FRACTION = 0.8;
const STEP_FRACTION = 0.02;
const PLACES = 10;
/** Weight of one look, of five minutes, in what is known. */
const LOOK_WEIGHT = 0.1;
/** The power that counts as no limit. [W] */
const UNLIMITED_W = 1e9;
/** With the voltage that the charge limit stands for. */
const CHARGING_OVER_NOMINAL = 1.08;

export interface AcceptanceTable {
  /** Below the table. [W] */
  readonly limitW: number;
  /** From 80 % on by steps of 2 %; falling. [W] */
  readonly stepsW: readonly number[];
}

/** Seen at the set-point, as the table lists it; null: not yet. [W] */
export type SeenAcceptance = readonly (number | null)[];

export const NOTHING_SEEN: SeenAcceptance = new Array<number | null>(PLACES).fill(null);

/**
 * Current as a multiple of the capacity in Ah for each hour that a battery at its set-point takes.
 * From memory, common practice, no source: lead-acid takes about C/8 at 85 % and C/50 when full;
 * LFP falls only over the last few per cent.
 */
function usualRate(chemistry: BatterySettings["chemistry"], fraction: number): number {
  const missing = 1 - fraction;
  return chemistry === "lfp" ? 0.03 + 8 * missing : 0.012 + 0.75 * missing;
}

export function acceptanceTable(battery: BatterySettings, seen: SeenAcceptance): AcceptanceTable {
  const { chemistry, capacityAh, nominalVoltageV, chargeLimitA } = battery;
  const chargingV = CHARGING_OVER_NOMINAL * nominalVoltageV;
  const limitW = chargeLimitA === null ? UNLIMITED_W : chargeLimitA * chargingV;
  const stepsW: number[] = [];
  let leastW = limitW;
  for (let place = 0; place < PLACES; place += 1) {
    const fraction = FROM_FRACTION + (place + 0.5) * STEP_FRACTION;
    const usualW = usualRate(chemistry, fraction) * capacityAh * chargingV;
    // A fuller battery never takes more, whatever one cold morning has shown.
    leastW = Math.min(leastW, numberOrNullAt(seen, place) ?? usualW);
    stepsW.push(leastW);
  }
  return { limitW, stepsW };
}

/** What a battery at `fraction` takes at most. [W] ≥ 0 */
export function acceptedW(table: AcceptanceTable, fraction: number): number {
  const at = (fraction - FROM_FRACTION) / STEP_FRACTION - 0.5;
  if (at < -1) return table.limitW;
  const place = Math.floor(at);
  const lower = place < 0 ? table.limitW : numberAt(table.stepsW, Math.min(PLACES - 1, place));
  const upper = numberAt(table.stepsW, Math.min(PLACES - 1, place + 1));
  // A limit that is none must not be drawn into the first step.
  if (lower >= UNLIMITED_W) return upper;
  return lower + (at - place) * (upper - lower);
}

/** The highest state of charge, of the table's, at which it still takes `powerW`. [1] */
export function fractionAccepting({ stepsW }: AcceptanceTable, powerW: number): number {
  for (let place = PLACES - 1; place >= 0; place -= 1) {
    if (numberAt(stepsW, place) >= powerW) return FROM_FRACTION + (place + 0.5) * STEP_FRACTION;
  }
  return FROM_FRACTION;
}

/** What five minutes at the set-point have shown. */
export function learnAcceptance(
  seen: SeenAcceptance,
  fraction: number,
  powerW: number,
): SeenAcceptance {
  const place = Math.floor((fraction - FROM_FRACTION) / STEP_FRACTION);
  if (place < 0 || powerW < 0) return seen;
  const index = Math.min(PLACES - 1, place);
  const known = numberOrNullAt(seen, index);
  const next = known === null ? powerW : known + LOOK_WEIGHT * (powerW - known);
  return withNumberOrNull(seen, index, next);
}
