/**
 * What is wrong with the site as a whole. Those marked as interlocks in the dictionary hold every
 * opportunity load off (`interlocks.ts`); the others are said.
 */
import type { Imbalance } from "./balance.ts";
import { dischargeLimitA, isChargeBlocked, isDischargeBlocked } from "./battery-limits.ts";
import { hasHeld } from "./blocks/held-since.ts";
import type { SiteFinding } from "./decision.ts";
import { itemAt } from "./item-at.ts";
import type { Observation, Reading } from "./observation.ts";
import type { InverterRatings } from "./ratings.ts";
import type { ControlSettings } from "./settings.ts";
import type { SocEstimate } from "./state-of-charge.ts";
import type { SiteCode } from "./site-codes.ts";

export interface FindingsInput {
  readonly settings: ControlSettings;
  readonly estimate: SocEstimate;
  readonly ratings: InverterRatings;
  readonly imbalance: Imbalance | null;
  readonly unbalancedSinceMs: number | null;
}

export function siteFindings(observation: Observation, input: FindingsInput): SiteFinding[] {
  const findings: SiteFinding[] = [];
  const add = (code: SiteCode, measured: number | null = null, limit: number | null = null) => {
    findings.push({ code, measured, limit });
  };
  if (!observation.isBrokerConnected) add("broker-lost");
  if (isTelemetryMissing(observation, input.settings)) add("telemetry-missing");
  addBattery(observation, input, add);
  addInverter(observation, input, add);
  addImbalance(observation, input, add);
  if (isSet(observation.isGeneratorRunning)) add("generator-running");
  if (!observation.isWallClockPlausible) add("clock-implausible");
  return findings;
}

type Add = (code: SiteCode, measured?: number | null, limit?: number | null) => void;

function addBattery(observation: Observation, input: FindingsInput, add: Add): void {
  const { estimate } = input;
  const { battery } = input.settings;
  const { voltageV, currentA, socFraction } = observation.battery;
  if (estimate.source === "none") add("soc-unknown");
  if (estimate.source === "count" && socFraction.quality !== "unmapped") add("soc-from-count");
  if (estimate.memory.isDisagreeing) {
    add("soc-disagrees", socFraction.value, estimate.memory.countFraction);
  }
  if (estimate.memory.isNotFollowing) {
    add("soc-not-following", socFraction.value);
  }
  const floorFraction = battery.floorFraction - battery.floorMarginFraction;
  if (estimate.fraction !== null && estimate.fraction < floorFraction) {
    add("below-floor", estimate.fraction, battery.floorFraction);
  }
  if (isDischargeBlocked(observation)) add("discharge-blocked");
  if (isChargeBlocked(observation)) add("charge-blocked");
  const limitA = dischargeLimitA(observation, battery);
  if (limitA !== null && isFresh(currentA) && -currentA.value > limitA) {
    add("discharge-over-limit", -currentA.value, limitA);
  }
  if (!isFresh(voltageV)) return;
  if (voltageV.value < battery.lowVoltageV) add("voltage-low", voltageV.value, battery.lowVoltageV);
  if (battery.highVoltageV !== null && voltageV.value > battery.highVoltageV) {
    add("voltage-high", voltageV.value, battery.highVoltageV);
  }
  const { maxInputV } = input.settings.inverter;
  if (maxInputV !== null && voltageV.value > maxInputV) {
    add("voltage-over-input", voltageV.value, maxInputV);
  }
}

function addImbalance(observation: Observation, input: FindingsInput, add: Add): void {
  const { imbalance, unbalancedSinceMs } = input;
  const { balance } = input.settings;
  if (imbalance === null || balance === null) return;
  if (!hasHeld(unbalancedSinceMs, balance.forMs, observation.monotonicMs)) return;
  add("power-unbalanced", imbalance.missingW, imbalance.toleratedW);
}

function addInverter(observation: Observation, input: FindingsInput, add: Add): void {
  const { ratings } = input;
  const { inverter } = input.settings;
  const { powerW, temperatureC, acVoltageV, frequencyHz, isFaulty } = observation.inverter;
  if (isSet(isFaulty)) add("inverter-fault");
  if (isFresh(powerW) && powerW.value > ratings.continuousW) {
    add("inverter-overload", powerW.value, ratings.continuousW);
  }
  addLegs(observation, input, add);
  const { temperatureMaxC, acVoltage, frequency } = inverter;
  if (temperatureMaxC !== null && isFresh(temperatureC) && temperatureC.value > temperatureMaxC) {
    add("inverter-hot", temperatureC.value, temperatureMaxC);
  }
  if (acVoltage !== null) {
    const limit = outsideLimit(acVoltageV, acVoltage.minV, acVoltage.maxV);
    if (limit !== null) add("ac-voltage", acVoltageV.value, limit);
  }
  if (frequency !== null) {
    const limit = outsideLimit(frequencyHz, frequency.minHz, frequency.maxHz);
    if (limit !== null) add("ac-frequency", frequencyHz.value, limit);
  }
}

/** The first leg over its limit; one is enough to hold all loads off. */
function addLegs(observation: Observation, input: FindingsInput, add: Add): void {
  const { legs } = input.settings.inverter;
  for (let index = 0; index < legs.length; index += 1) {
    const power = itemAt(observation.inverter.legPowersW, index);
    const limitVA = input.ratings.share * itemAt(legs, index).continuousVA;
    if (!isFresh(power) || power.value <= limitVA) continue;
    add("leg-overload", power.value, limitVA);
    return;
  }
}

/**
 * Every signal of the site that can hold loads off has to be fresh: one that has fallen silent may
 * hide the very fault that it is there to tell. The state of charge has its own fallbacks.
 */
function isTelemetryMissing(observation: Observation, settings: ControlSettings): boolean {
  const { battery, inverter } = observation;
  const { temperatureMaxC, derating, acVoltage, frequency } = settings.inverter;
  return (
    isLost(battery.voltageV) ||
    isLost(battery.currentA) ||
    isLost(battery.isDischargeBlocked) ||
    isLost(battery.dischargeLimitA) ||
    isLost(inverter.powerW) ||
    isLost(inverter.isFaulty) ||
    ((temperatureMaxC !== null || derating !== null) && isLost(inverter.temperatureC)) ||
    inverter.legPowersW.some(isLost) ||
    (acVoltage !== null && isLost(inverter.acVoltageV)) ||
    (frequency !== null && isLost(inverter.frequencyHz)) ||
    isLost(observation.isGeneratorRunning)
  );
}

/** The site has this signal, but it says nothing that may be acted upon. */
function isLost(reading: Reading<unknown>): boolean {
  return reading.quality !== "fresh" && reading.quality !== "unmapped";
}

function isFresh(reading: Reading<unknown>): boolean {
  return reading.quality === "fresh";
}

function isSet(reading: Reading<boolean>): boolean {
  return isFresh(reading) && reading.value;
}

/** The limit that the reading is beyond; null if within both, or if nothing may be acted upon. */
function outsideLimit(reading: Reading, min: number, max: number): number | null {
  if (!isFresh(reading)) return null;
  if (reading.value < min) return min;
  return reading.value > max ? max : null;
}
