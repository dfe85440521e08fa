/**
 * What the service assumes when the file does not say: of a battery by chemistry, for each cell.
 *
 * The maker's data sheet always wins; each value is one key of the file. Where no published source
 * is named, the value is what the trade uses and is marked so.
 */
import type { Chemistry } from "../service/control/settings.ts";

/** How long a motor takes its starting power: common practice, no source. [ms] */
export const USUAL_START_MS = 2000;

export interface ChemistryDefaults {
  readonly cellNominalV: number;
  /** Hours over which capacity is rated. */
  readonly ratedHours: number;
  readonly peukertExponent: number;
  readonly coulombicEfficiencyFraction: number;
  readonly absorptionVPerCell: number;
  readonly floatVPerCell: number;
  readonly compensationVPerKPerCell: number;
  /** Of the capacity in Ah, as a current in A. */
  readonly tailCurrentShare: number;
  readonly fullAfterMs: number;
  readonly lowVPerCell: number;
  readonly highVPerCell: number;
  /** Resistance of a cell times its capacity. [Ω·Ah] */
  readonly cellResistanceOhmAh: number;
  readonly fullChargeEveryDays: number;
}

const MINUTE_MS = 60_000;

/**
 * Lead-acid has a compensation of −3 to −5 mV/K for each cell in the standard for solar home
 * systems by GTZ (as quoted by energypedia); the middle is used. Low voltage: makers of batteries
 * prefer 1.85 to 1.95 V under load to the usual 1.75 V; opportunity loads leave first, so the upper
 * end is used. Tail current: 1 to 3 % of the 20-hour capacity, common practice, no source. The
 * other values: common practice, no source; Peukert, efficiency and resistance from memory.
 */
const LEAD_ACID = {
  cellNominalV: 2,
  ratedHours: 20,
  compensationVPerKPerCell: -0.004,
  tailCurrentShare: 0.02,
  fullAfterMs: 10 * MINUTE_MS,
  lowVPerCell: 1.95,
  highVPerCell: 2.7,
  floatVPerCell: 2.25,
  fullChargeEveryDays: 7,
} as const;

export const CHEMISTRY_DEFAULTS: Readonly<Record<Chemistry, ChemistryDefaults>> = {
  // Common practice, no source; 3.2 V nominal and no compensation are what makers print.
  lfp: {
    cellNominalV: 3.2,
    ratedHours: 5,
    peukertExponent: 1,
    coulombicEfficiencyFraction: 0.995,
    absorptionVPerCell: 3.45,
    floatVPerCell: 3.375,
    compensationVPerKPerCell: 0,
    tailCurrentShare: 0.05,
    fullAfterMs: 3 * MINUTE_MS,
    lowVPerCell: 3,
    highVPerCell: 3.6,
    cellResistanceOhmAh: 0.15,
    fullChargeEveryDays: 30,
  },
  flooded: {
    ...LEAD_ACID,
    peukertExponent: 1.25,
    coulombicEfficiencyFraction: 0.9,
    absorptionVPerCell: 2.45,
    cellResistanceOhmAh: 0.3,
  },
  agm: {
    ...LEAD_ACID,
    peukertExponent: 1.12,
    coulombicEfficiencyFraction: 0.95,
    absorptionVPerCell: 2.4,
    cellResistanceOhmAh: 0.2,
  },
  gel: {
    ...LEAD_ACID,
    peukertExponent: 1.15,
    coulombicEfficiencyFraction: 0.95,
    absorptionVPerCell: 2.35,
    cellResistanceOhmAh: 0.3,
  },
};

/** @returns Cells in series; not a whole number if the voltage does not fit the chemistry. */
export function cellsInSeries(chemistry: Chemistry, nominalVoltageV: number): number {
  const cells = nominalVoltageV / CHEMISTRY_DEFAULTS[chemistry].cellNominalV;
  const whole = Math.round(cells);
  // A nominal voltage is printed with a digit after the point, so a small remainder is rounding.
  return Math.abs(cells - whole) < 0.03 ? whole : cells;
}
