/** The inverter of the file, with its ratings as they hold at the altitude of the place. */
import type { InverterSettings } from "../service/control/settings.ts";
import type { InverterSection } from "./schema.ts";

export function toInverter(inverter: InverterSection, elevationM: number): InverterSettings {
  const { continuous, apparentPower, surge, derating, acVoltage, frequency } = inverter;
  const share = altitudeShare(inverter, elevationM);
  const atPlace = (rating: number): number => roundToMilli(rating * share);
  return {
    continuousW: atPlace(continuous),
    continuousVA: atPlace(apparentPower ?? continuous),
    surgeVA: atPlace(surge),
    derating:
      derating === undefined ? null : { aboveC: derating.above, perKFraction: derating.perK },
    maxInputV: inverter.maxInput ?? null,
    legs: inverter.legs.map((leg) => ({ id: leg.id, continuousVA: atPlace(leg.continuous) })),
    idleW: inverter.idle,
    efficiencyFraction: inverter.efficiency,
    temperatureMaxC: inverter.temperatureMax ?? null,
    acVoltage: acVoltage === undefined ? null : { minV: acVoltage.min, maxV: acVoltage.max },
    frequency: frequency === undefined ? null : { minHz: frequency.min, maxHz: frequency.max },
  };
}

/** What thin air leaves of the ratings. [1] 0…1 */
function altitudeShare({ altitudeDerating }: InverterSection, elevationM: number): number {
  if (altitudeDerating === undefined) return 1;
  const { above, per100m } = altitudeDerating;
  return 1 - (per100m * Math.max(0, elevationM - above)) / 100;
}

/** Products such as 8000 × 0.965 carry an error in the last digit that no reader wants. */
function roundToMilli(value: number): number {
  return Math.round(value * 1000) / 1000;
}
