/** What the simulated battery is made of, and what is assumed where the settings do not say. */
import type { BatterySettings } from "../../service/control/settings.ts";
import { fitKibam } from "./kibam.ts";
import type { KibamConstants } from "./kibam.ts";

/** The battery's own disconnect; what has none is never refused. */
export interface ProtectionSettings {
  /** Opens below and above. [V] */
  readonly cutOffLowV: number;
  readonly cutOffHighV: number;
  /** Charge is refused below this… [°C] */
  readonly chargeMinC: number;
  /** …and allowed again above this. [°C] */
  readonly chargeAgainC: number;
}

export interface CellSettings {
  readonly kind: "lfp";
  readonly cells: number;
  readonly capacityAh: number;
  readonly coulombicEfficiencyFraction: number;
  /** Ohmic part. [Ω] > 0 */
  readonly seriesOhm: number;
  /** Slow part: resistance and time constant of the one RC pair. */
  readonly diffusionOhm: number;
  readonly diffusionS: number;
  readonly protection: ProtectionSettings;
}

export interface LeadAcidSettings {
  readonly kind: "lead-acid";
  readonly cells: number;
  /** At the rated hours. [Ah] > 0 */
  readonly capacityAh: number;
  /** [Ω] > 0 */
  readonly seriesOhm: number;
  /** Of the charge that arrives, the share 1 − soc^this is stored; the rest makes gas. [1] > 0 */
  readonly gassingExponent: number;
  /** The same for every charge, as its monitor reckons. [1] 0…1 */
  readonly monitorEfficiencyFraction: number;
  /** Charging meets this much more, over (1 − soc + `polarisationSpare`). [Ω] > 0 */
  readonly polarisationOhm: number;
  readonly polarisationSpare: number;
  readonly tanks: KibamConstants;
  readonly protection: null;
}

export type BatteryPlantSettings = CellSettings | LeadAcidSettings;

const LFP_NOMINAL_V = 3.2;
const LEAD_ACID_NOMINAL_V = 2;

/** Cells in series. [1] */
export function cellCount({ chemistry, nominalVoltageV }: BatterySettings): number {
  return Math.round(nominalVoltageV / (chemistry === "lfp" ? LFP_NOMINAL_V : LEAD_ACID_NOMINAL_V));
}

/**
 * The battery that belongs to a site's settings.
 *
 * Assumed, common practice without a source unless said. LFP: cell cut-offs 2.5 and 3.65 V;
 * resistance split 60/40 into ohmic and slow part with 300 s; charge refused below 0 °C (cell data
 * sheets, CHECKS BA-8) until 5 °C. Lead-acid: see `leadAcid`.
 */
export function batteryPlantSettings(battery: BatterySettings): BatteryPlantSettings {
  const cells = cellCount(battery);
  return battery.chemistry === "lfp" ? lfp(battery, cells) : leadAcid(battery, cells);
}

function lfp(battery: BatterySettings, cells: number): CellSettings {
  const resistanceOhm = battery.resistanceOhm > 0 ? battery.resistanceOhm : 0.0005 * cells;
  return {
    kind: "lfp",
    cells,
    capacityAh: battery.capacityAh,
    coulombicEfficiencyFraction: battery.coulombicEfficiencyFraction,
    seriesOhm: 0.6 * resistanceOhm,
    diffusionOhm: 0.4 * resistanceOhm,
    diffusionS: 300,
    protection: {
      cutOffLowV: 2.5 * cells,
      cutOffHighV: 3.65 * cells,
      chargeMinC: 0,
      chargeAgainC: 5,
    },
  };
}

/** A Peukert exponent nearer to 1 leaves the two tanks undetermined. */
const EXPONENT_MIN = 1.03;

/** Current at the absorption set-point, times the capacity: at 80 % and when full. [1/h] */
const ACCEPTED_AT_80_PER_H = 0.12;
const ACCEPTED_WHEN_FULL_PER_H = 0.01;

/**
 * Acceptance at the set-point is C/8 at 80 % and C/100 when full, as flooded batteries in good
 * order show (common practice, no source); the mean over the charge of the gassing efficiency is
 * the settings' charge efficiency; capacity against rate follows the settings' Peukert exponent.
 */
function leadAcid(battery: BatterySettings, cells: number): LeadAcidSettings {
  const { capacityAh, ratedHours, coulombicEfficiencyFraction: efficiency } = battery;
  const seriesOhm = battery.resistanceOhm > 0 ? battery.resistanceOhm : 0.0006 * cells;
  const overV = battery.absorptionVoltageV - 2.1 * cells;
  const at80Ohm = Math.max(seriesOhm, overV / (ACCEPTED_AT_80_PER_H * capacityAh) - seriesOhm);
  const fullOhm = Math.max(
    2 * at80Ohm,
    overV / (ACCEPTED_WHEN_FULL_PER_H * capacityAh) - seriesOhm,
  );
  const polarisationSpare = (0.2 * at80Ohm) / (fullOhm - at80Ohm);
  return {
    kind: "lead-acid",
    cells,
    capacityAh,
    seriesOhm,
    gassingExponent: efficiency / Math.max(0.01, 1 - efficiency),
    monitorEfficiencyFraction: efficiency,
    polarisationOhm: fullOhm * polarisationSpare,
    polarisationSpare,
    tanks: fitKibam(peukertCapacities(battery, { capacityAh, ratedHours })),
    protection: null,
  };
}

/** Capacity in T hours by t = H·(C/(I·H))^k is C·(T/H)^(1 − 1/k). */
function peukertCapacities(
  { peukertExponent }: BatterySettings,
  rated: { readonly capacityAh: number; readonly ratedHours: number },
): Parameters<typeof fitKibam>[0] {
  const { capacityAh, ratedHours } = rated;
  const power = 1 - 1 / Math.max(EXPONENT_MIN, peukertExponent);
  return {
    ratedHours,
    ratedAh: capacityAh,
    halfAh: capacityAh * Math.exp(-power * Math.LN2),
    hourAh: capacityAh * Math.exp(-power * Math.log(ratedHours)),
  };
}
