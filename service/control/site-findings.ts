/**
 * What is wrong with the site as a whole. Those marked as interlocks in the dictionary hold every
 * opportunity load off (`interlocks.ts`); the others are said.
 */
import type { SiteFinding } from "./decision.ts";
import type { Observation, Reading } from "./observation.ts";
import type { ControlSettings } from "./settings.ts";
import type { SocEstimate } from "./state-of-charge.ts";
import type { SiteCode } from "./verdict-codes.ts";

export interface FindingsInput {
  readonly settings: ControlSettings;
  readonly estimate: SocEstimate;
}

export function siteFindings(observation: Observation, input: FindingsInput): SiteFinding[] {
  const findings: SiteFinding[] = [];
  const add = (code: SiteCode, measured: number | null = null, limit: number | null = null) => {
    findings.push({ code, measured, limit });
  };
  if (!observation.isBrokerConnected) add("broker-lost");
  if (isTelemetryMissing(observation, input.settings)) add("telemetry-missing");
  addBattery(observation, input, add);
  addInverter(observation, input.settings, add);
  if (isSet(observation.isGeneratorRunning)) add("generator-running");
  if (!observation.isWallClockPlausible) add("clock-implausible");
  return findings;
}

type Add = (code: SiteCode, measured?: number | null, limit?: number | null) => void;

function addBattery(observation: Observation, input: FindingsInput, add: Add): void {
  const { estimate } = input;
  const { battery } = input.settings;
  const { voltageV, isDischargeBlocked, isChargeBlocked, socFraction } = observation.battery;
  if (estimate.source === "none") add("soc-unknown");
  if (estimate.source === "count" && socFraction.quality !== "unmapped") add("soc-from-count");
  if (estimate.memory.isDisagreeing) {
    add("soc-disagrees", socFraction.value, estimate.memory.countFraction);
  }
  const floorFraction = battery.floorFraction - battery.floorMarginFraction;
  if (estimate.fraction !== null && estimate.fraction < floorFraction) {
    add("below-floor", estimate.fraction, battery.floorFraction);
  }
  if (isSet(isDischargeBlocked)) add("discharge-blocked");
  if (isSet(isChargeBlocked)) add("charge-blocked");
  if (!isFresh(voltageV)) return;
  if (voltageV.value < battery.lowVoltageV) add("voltage-low", voltageV.value, battery.lowVoltageV);
  if (battery.highVoltageV !== null && voltageV.value > battery.highVoltageV) {
    add("voltage-high", voltageV.value, battery.highVoltageV);
  }
}

function addInverter(observation: Observation, settings: ControlSettings, add: Add): void {
  const { inverter } = settings;
  const { powerW, temperatureC, acVoltageV, frequencyHz, isFaulty } = observation.inverter;
  if (isSet(isFaulty)) add("inverter-fault");
  if (isFresh(powerW) && powerW.value > inverter.continuousW) {
    add("inverter-overload", powerW.value, inverter.continuousW);
  }
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

/**
 * Every signal of the site that can hold loads off has to be fresh: one that has fallen silent may
 * hide the very fault that it is there to tell. The state of charge has its own fallbacks.
 */
function isTelemetryMissing(observation: Observation, settings: ControlSettings): boolean {
  const { battery, inverter } = observation;
  const { temperatureMaxC, acVoltage, frequency } = settings.inverter;
  return (
    isLost(battery.voltageV) ||
    isLost(battery.currentA) ||
    isLost(battery.isDischargeBlocked) ||
    isLost(inverter.powerW) ||
    isLost(inverter.isFaulty) ||
    (temperatureMaxC !== null && isLost(inverter.temperatureC)) ||
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
