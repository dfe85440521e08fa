import { chargeLimitA, isChargeBlocked } from "./battery-limits.ts";
import type { ChargeState } from "./charge-stage.ts";
import { compensatedVoltageV, setpointToleranceV } from "./charge-voltage.ts";
import type { Observation, SourceObservation } from "./observation.ts";
import type { ArraySettings, ControlSettings } from "./settings.ts";

/** Nearer to a limit than this the limit may be what holds the array back. [1] */
const UNLIMITED_FRACTION = 0.95;
/** A generator's charger lifts the voltage; so long after it stopped it no longer does. [ms] */
const AFTER_GENERATOR_MS = 600_000;

export interface UncurtailedInput {
  readonly settings: ControlSettings;
  readonly charge: ChargeState;
  /** Last tick at which the generator ran. */
  readonly generatorAtMs: number | null;
}

/** Whether anything about the battery may hold any array back; false in doubt. */
export function isBatteryOpen(observation: Observation, input: UncurtailedInput): boolean {
  const { battery } = input.settings;
  const { voltageV, currentA } = observation.battery;
  const { isGeneratorRunning, monotonicMs } = observation;
  if (voltageV.quality !== "fresh" || currentA.quality !== "fresh") return false;
  if (isGeneratorRunning.quality === "fresh" && isGeneratorRunning.value) return false;
  const sinceGeneratorMs = monotonicMs - (input.generatorAtMs ?? -Infinity);
  if (sinceGeneratorMs < AFTER_GENERATOR_MS || isChargeBlocked(observation)) return false;
  const limitA = chargeLimitA(observation, battery);
  return limitA === null || currentA.value < UNLIMITED_FRACTION * limitA;
}

/**
 * An array certainly gives all that it can: its controller is in bulk and under its own limit. Or
 * the battery has to give under the float set-point: no controller lets it discharge there while it
 * has more to deliver. Above it, one does: when absorption ends the battery gives for minutes,
 * until its voltage has come down.
 */
export function isUncurtailed(
  array: ArraySettings,
  source: SourceObservation,
  seen: { readonly observation: Observation; readonly input: UncurtailedInput },
): boolean {
  const { observation, input } = seen;
  const { voltageV, currentA } = observation.battery;
  const limitW = (array.currentLimitA ?? Infinity) * voltageV.value;
  if (source.powerW.value >= UNLIMITED_FRACTION * limitW) return false;
  const { battery } = input.settings;
  if (voltageV.value * currentA.value < -battery.toleranceW) {
    const floatV = compensatedVoltageV(battery.floatVoltageV, observation, battery);
    if (voltageV.value < floatV - setpointToleranceV(battery)) return true;
  }
  const { quality, value } = source.chargeStage;
  return (quality === "fresh" ? value : input.charge.stage) === "bulk";
}
