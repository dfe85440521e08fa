/**
 * A tank's heating element, judged by what the tank's thermometer shows for the energy put in.
 *
 * - *dry*: the tank warms faster than that energy could warm its water; so there is little water
 *   at the element, or it burns somewhere else. Off at once, and latched.
 * - *open*: enough has gone in, by the books, to warm the water well, and nothing shows. A broken
 *   element, its own thermostat, a sensor that has come off; or hot water was drawn all the while,
 *   so one time alone proves nothing: it is tried again, and latched after some in a row.
 *
 * Another source of heat in the same tank (a stove, a solar collector) makes the first judgement
 * wrong; such a tank must not be given a volume.
 */
import type { Verdict } from "./decision.ts";
import type { GuardMemory, HeatingMemory, LoadMemory } from "./memory.ts";
import type { LoadObservation } from "./observation.ts";
import type { LoadSettings } from "./settings.ts";
import { measuredVerdict, timedVerdict } from "./verdict.ts";

/** 4186 J/(kg K) × 0.99 kg/L / 3600 s/h. Water at 50 °C; from memory. [Wh/(L K)] */
export const WATER_WH_PER_L_K = (4186 * 0.99) / 3600;
/** The thermometer may sit where it is warmest. Ours, no source. */
const DRY_FACTOR = 2.5;
const DRY_MARGIN_K = 4;
/** Too short a time shows the sensor's noise. [ms] */
const DRY_AFTER_MS = 120_000;
/** An older reference would hide a tank that ran empty in the middle of a run. [ms] */
const REFERENCE_MAX_MS = 3_600_000;
/** Energy for this much warming must show at least that much. Ours, no source. [K] */
const OPEN_AFTER_K = 10;
const WARMED_K = 1;
/** Times in a row without warming that latch the load. */
const OPEN_TIMES_MAX = 3;
/** Wait after the first of them, times their number. [ms] */
const RETRY_MS = 1_800_000;

export interface HeatingInput {
  readonly settings: LoadSettings;
  readonly nowMs: number;
  /** Since the tick before. [Wh] AC */
  readonly energyWh: number;
  readonly isAfterGap: boolean;
}

/** The reference carried on by a tick; null while the element is off or can't be judged. */
export function advanceHeating(
  load: LoadMemory,
  observation: LoadObservation,
  { settings, nowMs, energyWh, isAfterGap }: HeatingInput,
): HeatingMemory | null {
  const { value: celsius, quality } = observation.tankTemperatureC;
  if (volumeOf(settings) === null || load.stage === 0 || quality !== "fresh") return null;
  const { heating } = load.guard;
  if (heating === null || isAfterGap) {
    return { sinceMs: nowMs, fromC: celsius, energyWh: 0, lowestC: celsius, unwarmedWh: 0 };
  }
  const isOld = nowMs - heating.sinceMs >= REFERENCE_MAX_MS;
  const hasWarmed = celsius >= heating.lowestC + WARMED_K;
  return {
    sinceMs: isOld ? nowMs : heating.sinceMs,
    fromC: isOld ? celsius : heating.fromC,
    energyWh: isOld ? 0 : heating.energyWh + energyWh,
    lowestC: hasWarmed ? celsius : Math.min(heating.lowestC, celsius),
    unwarmedWh: hasWarmed ? 0 : heating.unwarmedWh + energyWh,
  };
}

/** `observation` is of the tick to which `heating` was carried on. */
export function isElementDry(
  heating: HeatingMemory | null,
  observation: LoadObservation,
  input: Pick<HeatingInput, "settings" | "nowMs">,
): boolean {
  const volumeL = volumeOf(input.settings);
  if (heating === null || volumeL === null) return false;
  if (input.nowMs - heating.sinceMs < DRY_AFTER_MS) return false;
  const riseK = observation.tankTemperatureC.value - heating.fromC;
  return riseK > DRY_FACTOR * warmingK(heating.energyWh, volumeL) + DRY_MARGIN_K;
}

export function isElementOpen(heating: HeatingMemory | null, settings: LoadSettings): boolean {
  const volumeL = volumeOf(settings);
  if (heating === null || volumeL === null) return false;
  return warmingK(heating.unwarmedWh, volumeL) >= OPEN_AFTER_K;
}

/** Times in a row that the tank did not warm, with `heating` of this tick. */
export function countUnwarmed(
  guard: GuardMemory,
  heating: HeatingMemory | null,
  settings: LoadSettings,
): number {
  if (isElementOpen(heating, settings)) return guard.unwarmedTimes + 1;
  if (guard.heating === null || heating === null) return guard.unwarmedTimes;
  const hasWarmed = heating.lowestC >= guard.heating.lowestC + WARMED_K;
  return hasWarmed ? 0 : guard.unwarmedTimes;
}

export function isOpenTooOften({ unwarmedTimes }: GuardMemory): boolean {
  return unwarmedTimes >= OPEN_TIMES_MAX;
}

/** Off at once for a tank that does not warm; one that warms too fast is latched before. */
export function elementInterlock(
  { heating, unwarmedTimes }: GuardMemory,
  settings: LoadSettings,
): Verdict | null {
  if (!isElementOpen(heating, settings)) return null;
  return measuredVerdict("element-open", 0, { measured: unwarmedTimes, limit: OPEN_TIMES_MAX });
}

/** How long a load whose tank did not warm still has to wait; null: not at all. */
export function elementWait(load: LoadMemory, nowMs: number): Verdict | null {
  const { unwarmedTimes } = load.guard;
  const remainingMs = load.stoppedAtMs + RETRY_MS * unwarmedTimes - nowMs;
  if (unwarmedTimes === 0 || remainingMs <= 0) return null;
  return timedVerdict("waiting-element", 0, remainingMs);
}

/** By how much this energy warms all the water of the tank. [K] */
function warmingK(energyWh: number, volumeL: number): number {
  return energyWh / (WATER_WH_PER_L_K * volumeL);
}

function volumeOf({ tank }: LoadSettings): number | null {
  return tank?.volumeL ?? null;
}
