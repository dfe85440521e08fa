import { hasHeld, heldSince } from "./blocks/held-since.ts";
import { compensatedVoltageV, setpointToleranceV } from "./charge-voltage.ts";
import type { BatteryMemory } from "./memory.ts";
import type { ChargeStage, Observation } from "./observation.ts";
import type { BatterySettings } from "./settings.ts";

export interface ChargeState {
  /** null while neither a report nor a voltage is fresh. */
  readonly stage: ChargeStage | null;
  /** Voltage is at the set-point of the stage, so that the arrays are held back. */
  readonly isAtSetpoint: boolean;
  readonly isFull: boolean;
  readonly tailSinceMs: number | null;
}

/**
 * Charge stage, reported or inferred from the voltage, and whether the battery is full.
 *
 * Full means: at the set-point, with no more than the tail current, for a while. Tail current alone
 * says nothing: a cloud or a diverted load pulls the current down with the voltage *below* the
 * set-point, and that battery is not full.
 *
 * A charge controller that reports float after absorption has ended the charge by its own rule, by
 * its time limit as a rule; that counts as full, too (common practice, no source).
 *
 * @source CONTROL.md 3; tail current rule: CHECKS.md BA-4
 */
export function chargeState(
  memory: BatteryMemory,
  observation: Observation,
  battery: BatterySettings,
): ChargeState {
  const { voltageV, currentA, chargeStage } = observation.battery;
  const stage =
    chargeStage.quality === "fresh"
      ? chargeStage.value
      : voltageV.quality === "fresh"
        ? inferStage(memory, observation, battery)
        : null;
  if (stage === null || voltageV.quality !== "fresh") {
    return { stage, isAtSetpoint: false, isFull: false, tailSinceMs: null };
  }
  const setpointV = stage === "float" ? battery.floatVoltageV : battery.absorptionVoltageV;
  const isAtSetpoint =
    stage !== "bulk" &&
    voltageV.value >=
      compensatedVoltageV(setpointV, observation, battery) - setpointToleranceV(battery);
  const isTail =
    isAtSetpoint &&
    currentA.quality === "fresh" &&
    currentA.value >= 0 &&
    currentA.value <= battery.tailCurrentA;
  const tailSinceMs = heldSince(memory.tailSinceMs, isTail, observation.monotonicMs);
  const hasEnded = stage === "float" && (memory.stage === "absorption" || memory.isFull);
  const isFull =
    hasHeld(tailSinceMs, battery.fullAfterMs, observation.monotonicMs) ||
    (hasEnded && isAtSetpoint && chargeStage.quality === "fresh");
  return { stage, isAtSetpoint, isFull, tailSinceMs };
}

/**
 * Bulk under the absorption set-point, absorption at it, float where the voltage has come down to
 * the float set-point after absorption and stays there.
 */
function inferStage(
  memory: BatteryMemory,
  observation: Observation,
  battery: BatterySettings,
): ChargeStage {
  const measuredV = observation.battery.voltageV.value;
  const toleranceV = setpointToleranceV(battery);
  const absorptionV = compensatedVoltageV(battery.absorptionVoltageV, observation, battery);
  if (measuredV >= absorptionV - toleranceV) return "absorption";
  const floatV = compensatedVoltageV(battery.floatVoltageV, observation, battery);
  const wasPastBulk = memory.isFull || memory.stage === "float";
  if (wasPastBulk && measuredV >= floatV - toleranceV) return "float";
  return "bulk";
}
