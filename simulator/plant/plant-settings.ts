/**
 * What the simulated shed is made of. The site's settings give the sizes; what a settings file has
 * no reason to say (loss curves, the cell's own curve, the tank's lagging) is assumed here and can
 * be overridden by a test.
 */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { LoadSettings } from "../../service/control/settings.ts";
import { UserError } from "../../service/errors.ts";

export interface CellSettings {
  readonly cells: number;
  readonly capacityAh: number;
  readonly coulombicEfficiencyFraction: number;
  /** Ohmic part. [Ω] > 0 */
  readonly seriesOhm: number;
  /** Slow part: resistance and time constant of the one RC pair. */
  readonly diffusionOhm: number;
  readonly diffusionS: number;
  /** The battery's own protection: opens below and above. [V] */
  readonly cutOffLowV: number;
  readonly cutOffHighV: number;
  /** Charge is refused below this… [°C] */
  readonly chargeMinC: number;
  /** …and allowed again above this. [°C] */
  readonly chargeAgainC: number;
}

export interface ChargerSettings {
  readonly absorptionV: number;
  readonly floatV: number;
  /** Back to bulk when the voltage has been this far under the float set-point. [V] > 0 */
  readonly rebulkBelowV: number;
  readonly tailCurrentA: number;
  readonly tailS: number;
  readonly absorptionMaxS: number;
  /** Array power to battery bus. [1] 0…1 */
  readonly efficiencyFraction: number;
}

export interface InverterPlantSettings {
  readonly continuousW: number;
  readonly surgeVA: number;
  readonly idleW: number;
  /** Loss per W of output. [1] */
  readonly proportionalLoss: number;
  /** Loss at full load beyond the proportional part, as a share of it. [1] */
  readonly quadraticLoss: number;
  /** Stops below, starts again above. [V] */
  readonly cutOffLowV: number;
  readonly restartV: number;
  /** Trips when it has given more than its rating for this long. [s] */
  readonly overloadS: number;
}

export interface TankPlantSettings {
  readonly volumeL: number;
  readonly lossWPerK: number;
  readonly ambientC: number;
  readonly inletC: number;
  /** The element's own thermostat: opens here, closes `thermostatHysteresisK` below. */
  readonly thermostatC: number;
  readonly thermostatHysteresisK: number;
  /** Water below this is of no use at the tap; a backup then gives the rest. [°C] */
  readonly usefulC: number;
  /** Times the draws of profile M (5.845 kWh a day). [1] ≥ 0 */
  readonly drawScale: number;
  readonly startC: number;
}

/** A store that a switched load fills: cistern, flock of chilled churns. Counted in run time. */
export interface StoreSettings {
  /** Run time from empty to full, where the load's own switch opens. [s] > 0 */
  readonly fullS: number;
  /** What is used up in a day. [s] ≥ 0 */
  readonly usedPerDayS: number;
  /** The switch closes again at this share of full. [1] 0…1 */
  readonly closesAtFraction: number;
}

export interface LoadPlantSettings {
  readonly id: string;
  readonly stagesW: readonly number[];
  readonly panelIndex: number | null;
  readonly tank: TankPlantSettings | null;
  readonly store: StoreSettings | null;
}

export interface ArrayPlantSettings {
  readonly id: string;
  readonly peakW: number;
  readonly tiltDeg: number;
  readonly azimuthDeg: number;
  readonly currentLimitA: number | null;
}

export interface PlantSettings {
  readonly battery: CellSettings;
  readonly charger: ChargerSettings;
  readonly inverter: InverterPlantSettings;
  readonly arrays: readonly ArrayPlantSettings[];
  readonly loads: readonly LoadPlantSettings[];
  readonly panelCount: number;
}

const CELL_NOMINAL_V = 3.2;

/**
 * The shed that belongs to a site's settings.
 *
 * Assumed, common practice without a source unless said: cell cut-offs 2.5 and 3.65 V; resistance
 * of the settings file split 60/40 into ohmic and slow part with 300 s; charge refused below 0 °C
 * (cell data sheets, CHECKS BA-8) until 5 °C; MPPT 97 %; absorption for at most 2 h; inverter loss
 * two fifths quadratic; 200 L tank of energy class C.
 *
 * @throws UserError if the site has something that is not simulated yet.
 */
export function plantSettings(site: SiteSettings): PlantSettings {
  const { battery, inverter, sources, loads, panels } = site.control;
  refuseUnsupported(site);
  const cells = Math.round(battery.nominalVoltageV / CELL_NOMINAL_V);
  // Half of the loss at half load is what the settings' single efficiency figure stands for.
  const loss = 1 / inverter.efficiencyFraction - 1;
  const resistanceOhm = battery.resistanceOhm > 0 ? battery.resistanceOhm : 0.0005 * cells;
  return {
    battery: {
      cells,
      capacityAh: battery.capacityAh,
      coulombicEfficiencyFraction: battery.coulombicEfficiencyFraction,
      seriesOhm: 0.6 * resistanceOhm,
      diffusionOhm: 0.4 * resistanceOhm,
      diffusionS: 300,
      cutOffLowV: 2.5 * cells,
      cutOffHighV: 3.65 * cells,
      chargeMinC: 0,
      chargeAgainC: 5,
    },
    charger: {
      absorptionV: battery.absorptionVoltageV,
      floatV: battery.floatVoltageV,
      rebulkBelowV: 0.05 * cells,
      tailCurrentA: battery.tailCurrentA,
      tailS: battery.fullAfterMs / 1000,
      absorptionMaxS: 7200,
      efficiencyFraction: 0.97,
    },
    inverter: {
      continuousW: inverter.continuousW,
      surgeVA: inverter.surgeVA,
      idleW: inverter.idleW,
      proportionalLoss: 0.6 * loss,
      quadraticLoss: 0.8 * loss,
      cutOffLowV: 2.8 * cells,
      restartV: 3.15 * cells,
      overloadS: 60,
    },
    arrays: sources.flatMap((source) => (source.kind === "array" ? [source] : [])),
    loads: loads.map((load) => ({
      id: load.id,
      stagesW: load.stagesW,
      panelIndex: load.panelIndex,
      tank: load.tank === null ? null : tankSettings(load.tank),
      store: load.tank === null ? DEFAULT_STORE : null,
    })),
    panelCount: panels.length,
  };
}

/** A cistern that three hours of pumping fill and two hours' worth empties each day. */
const DEFAULT_STORE: StoreSettings = { fullS: 10_800, usedPerDayS: 7200, closesAtFraction: 0.8 };

function tankSettings(tank: NonNullable<LoadSettings["tank"]>): TankPlantSettings {
  return {
    volumeL: 200,
    // Class C at 200 L is 86 W over 45 K (EU 812/2013, CHECKS WH-3).
    lossWPerK: 1.911,
    ambientC: 15,
    inletC: 10,
    thermostatC: tank.limitC + 5,
    thermostatHysteresisK: 5,
    usefulC: 40,
    drawScale: 1,
    startC: 45,
  };
}

function refuseUnsupported(site: SiteSettings): void {
  const { battery, sources } = site.control;
  const where = `site ${site.id}`;
  if (battery.chemistry !== "lfp") {
    throw new UserError([
      {
        code: "plant-chemistry",
        where,
        key: "battery.chemistry",
        found: battery.chemistry,
        expected: "lfp; other batteries are not simulated yet",
      },
    ]);
  }
  const steady = sources.find((source) => source.kind !== "array");
  if (steady !== undefined) {
    throw new UserError([
      {
        code: "plant-source",
        where,
        key: steady.kind,
        found: steady.id,
        expected: "arrays only; hydro and wind are not simulated yet",
      },
    ]);
  }
  if (sources.length === 0) {
    throw new UserError([
      { code: "plant-source", where, key: "arrays", expected: "at least one array to simulate" },
    ]);
  }
}
