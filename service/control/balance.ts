import { heldSince } from "./blocks/held-since.ts";
import type { Observation, Reading } from "./observation.ts";
import type { BalanceSettings, ControlSettings } from "./settings.ts";

/** What the measured powers leave unexplained, and how much of that is put up with. [W] */
export interface Imbalance {
  readonly missingW: number;
  readonly toleratedW: number;
}

/**
 * Sources and generator must feed battery, inverter and DC loads. A sum that does not come out says
 * that one of the meters lies, though each value looks sound by itself.
 *
 * @returns null while one of them is not fresh: a silent meter is told elsewhere.
 */
export function imbalanceOf(
  observation: Observation,
  settings: ControlSettings,
  balance: BalanceSettings,
): Imbalance | null {
  const { voltageV, currentA } = observation.battery;
  const acW = observation.inverter.powerW;
  if (!isFresh(voltageV) || !isFresh(currentA) || !isFresh(acW)) return null;
  const suppliedW = suppliedPowerW(observation);
  const dcLoadsW = orNothing(observation.dcLoadsPowerW);
  if (suppliedW === null || dcLoadsW === null) return null;
  const batteryW = voltageV.value * currentA.value;
  const { efficiencyFraction, idleW } = settings.inverter;
  const inverterW = acW.value / efficiencyFraction + idleW;
  const largestW = Math.max(suppliedW, Math.abs(batteryW), inverterW, dcLoadsW);
  return {
    missingW: Math.abs(suppliedW - batteryW - inverterW - dcLoadsW),
    toleratedW: Math.max(balance.toleranceW, balance.toleranceFraction * largestW),
  };
}

/**
 * Since when the powers have not added up; null while they do. While they cannot be compared, what
 * was found stands: a meter that comes and goes would never be told otherwise.
 */
export function unbalancedSince(
  previousSinceMs: number | null,
  imbalance: Imbalance | null,
  nowMs: number,
): number | null {
  if (imbalance === null) return previousSinceMs;
  const isUnbalanced = imbalance.missingW > imbalance.toleratedW;
  return heldSince(previousSinceMs, isUnbalanced, nowMs);
}

/** Sources and generator; null if one that gives power is not measured now. */
function suppliedPowerW(observation: Observation): number | null {
  let totalW = 0;
  for (const { powerW } of observation.sources) {
    if (!isFresh(powerW)) return null;
    totalW += powerW.value;
  }
  const isRunning = observation.isGeneratorRunning;
  if (!isFresh(isRunning) || !isRunning.value) return totalW;
  return isFresh(observation.generatorPowerW) ? totalW + observation.generatorPowerW.value : null;
}

/** A site without the signal has nothing there; one that is silent cannot be summed. */
function orNothing(reading: Reading): number | null {
  if (reading.quality === "unmapped") return 0;
  return isFresh(reading) ? reading.value : null;
}

function isFresh(reading: Reading<unknown>): boolean {
  return reading.quality === "fresh";
}
