/** The battery of the file, with everything that it leaves out filled in. */
import type { BatterySettings } from "../service/control/settings.ts";
import { CHEMISTRY_DEFAULTS, cellsInSeries } from "./defaults.ts";
import type { BatterySection, InverterSection } from "./schema.ts";

const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;

export function toBattery(
  battery: BatterySection,
  inverter: InverterSection | undefined,
): BatterySettings {
  const usual = CHEMISTRY_DEFAULTS[battery.chemistry];
  const cells = cellsInSeries(battery.chemistry, battery.nominalVoltage);
  const volts = (perCell: number): number => roundToMillivolt(perCell * cells);
  const everyMs = battery.fullChargeEvery;
  return {
    chemistry: battery.chemistry,
    capacityAh: battery.capacity,
    ratedHours: (battery.ratedOver ?? usual.ratedHours * HOUR_MS) / HOUR_MS,
    peukertExponent: battery.peukert ?? usual.peukertExponent,
    coulombicEfficiencyFraction: battery.chargeEfficiency ?? usual.coulombicEfficiencyFraction,
    nominalVoltageV: battery.nominalVoltage,
    floorFraction: battery.floor,
    floorMarginFraction: battery.floorMargin,
    sunsetTargetFraction: battery.sunsetTarget,
    reserveNights: battery.reserveNights,
    absorptionVoltageV: battery.absorptionVoltage ?? volts(usual.absorptionVPerCell),
    floatVoltageV: battery.floatVoltage ?? volts(usual.floatVPerCell),
    compensationVPerK: volts(battery.compensation ?? usual.compensationVPerKPerCell),
    tailCurrentA: battery.tailCurrent ?? usual.tailCurrentShare * battery.capacity,
    fullAfterMs: battery.fullAfter ?? usual.fullAfterMs,
    lowVoltageV: battery.lowVoltage ?? volts(usual.lowVPerCell),
    highVoltageV: battery.highVoltage ?? volts(usual.highVPerCell),
    resistanceOhm: battery.resistance ?? (usual.cellResistanceOhmAh * cells) / battery.capacity,
    voltageMode:
      battery.voltageMode === undefined
        ? null
        : { startV: battery.voltageMode.start, stopV: battery.voltageMode.stop },
    socDisagreementFraction: battery.socDisagreement,
    socFollowsOverFraction: battery.socFollowsOver,
    fullChargeEveryDays: everyMs === undefined ? usual.fullChargeEveryDays : everyMs / DAY_MS,
    toleranceW: battery.tolerance ?? usualToleranceW(inverter),
    chargeLimitA: battery.chargeLimit ?? null,
    dischargeLimitA: battery.dischargeLimit ?? null,
  };
}

/** Error of the usual current shunts and the ripple of an inverter. Common practice, no source. */
function usualToleranceW(inverter: InverterSection | undefined): number {
  return Math.max(50, 0.01 * (inverter?.continuous ?? 0));
}

/** Products such as 3.45 × 16 carry a rounding error in the last digit that no reader wants. */
function roundToMillivolt(voltageV: number): number {
  // Adding 0 turns −0, which the product of a negative and 0 is, into 0.
  return Math.round(voltageV * 1000) / 1000 + 0;
}
