/**
 * What the simulated shed is made of. The site's settings give the sizes; what a settings file has
 * no reason to say (loss curves, the cell's own curve, the tank's lagging) is assumed here and can
 * be overridden by a test.
 */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { ControlSettings } from "../../service/control/settings.ts";
import { UserError } from "../../service/errors.ts";
import { batteryPlantSettings, cellCount } from "./battery-settings.ts";
import type { BatteryPlantSettings } from "./battery-settings.ts";
import type { GeneratorPlantSettings } from "./generator.ts";
import { loadPlantSettings } from "./load-plant-settings.ts";
import type { LoadPlantSettings } from "./load-plant-settings.ts";
import type { Obstruction } from "../weather/obstructed-sky.ts";
import type { ProgrammeSettings } from "./programme.ts";
import type { WindPlantSettings } from "./wind-turbine.ts";

export interface ChargerSettings {
  /** Both at 25 °C. [V] > 0 */
  readonly absorptionV: number;
  readonly floatV: number;
  /** Change of both with the battery's temperature. [V/K] ≤ 0 */
  readonly compensationVPerK: number;
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

/** A turbine: it gives the same day and night, into the bus or into its own dump. */
export interface HydroPlantSettings {
  readonly id: string;
  /** At the battery bus. [W] ≥ 0 */
  readonly powerW: number;
}

export interface ArrayPlantSettings {
  readonly id: string;
  readonly peakW: number;
  readonly tiltDeg: number;
  readonly azimuthDeg: number;
  readonly currentLimitA: number | null;
}

interface Plane {
  readonly tiltDeg: number;
  readonly azimuthDeg: number;
}

export interface PlantSettings {
  readonly battery: BatteryPlantSettings;
  readonly charger: ChargerSettings;
  readonly inverter: InverterPlantSettings;
  readonly arrays: readonly ArrayPlantSettings[];
  /** Stands where nothing shades it; null: the site has none. */
  readonly irradianceSensor: Plane | null;
  /** Between the recorded light and the arrays; a recorded power has it in itself. */
  readonly obstruction: Obstruction;
  readonly hydro: readonly HydroPlantSettings[];
  readonly wind: readonly WindPlantSettings[];
  /** The turbines' dumps hold the bus here. [V] > absorption set-point */
  readonly dumpV: number;
  readonly generator: GeneratorPlantSettings | null;
  /** Started by people, whatever Bywash thinks: part of everyday use. */
  readonly programmes: readonly ProgrammeSettings[];
  readonly loads: readonly LoadPlantSettings[];
  readonly panelCount: number;
}

/** A turbine's usual share of its peak; the creek does not change here. [1] no source */
const HYDRO_SHARE = 0.7;
/** A dump takes over this far above the absorption set-point. [1] common practice, no source */
const DUMP_ABOVE = 1.04;
/** A charger gives this share of the capacity in an hour. [1/h] common practice, no source */
const CHARGER_PER_H = 0.12;

/** Limits of the inverter's input for one cell. [V] LFP: no source; lead-acid: CHECKS BA-9 */
const INVERTER_CELL_V = {
  lfp: { cutOffLowV: 2.8, restartV: 3.15 },
  "lead-acid": { cutOffLowV: 1.85, restartV: 2.05 },
} as const;

/**
 * The shed that belongs to a site's settings.
 *
 * Assumed, common practice without a source unless said: MPPT 97 %; absorption for at most 2 h
 * (LFP) or 4 h; inverter loss two fifths quadratic; a generator's charger takes 0.12 C, which is
 * 60 % of the set.
 *
 * @throws UserError if the site has something that is not simulated yet.
 */
export function plantSettings(site: SiteSettings): PlantSettings {
  const { battery, inverter, sources, loads, panels } = site.control;
  refuseUnsupported(site);
  const cells = cellCount(battery);
  const bank = batteryPlantSettings(battery);
  const perCellV = INVERTER_CELL_V[bank.kind];
  // Half of the loss at half load is what the settings' single efficiency figure stands for.
  const loss = 1 / inverter.efficiencyFraction - 1;
  return {
    battery: bank,
    charger: {
      absorptionV: battery.absorptionVoltageV,
      floatV: battery.floatVoltageV,
      compensationVPerK: battery.compensationVPerK,
      rebulkBelowV: bank.kind === "lfp" ? 0.05 * cells : 0.1 * cells,
      tailCurrentA: battery.tailCurrentA,
      tailS: battery.fullAfterMs / 1000,
      absorptionMaxS: bank.kind === "lfp" ? 7200 : 14_400,
      efficiencyFraction: 0.97,
    },
    inverter: {
      continuousW: inverter.continuousW,
      surgeVA: inverter.surgeVA,
      idleW: inverter.idleW,
      proportionalLoss: 0.6 * loss,
      quadraticLoss: 0.8 * loss,
      cutOffLowV: perCellV.cutOffLowV * cells,
      restartV: perCellV.restartV * cells,
      overloadS: 60,
    },
    obstruction: { hazeFraction: 0, horizon: [] },
    irradianceSensor: site.control.irradianceSensor,
    arrays: sources.flatMap((source) => (source.kind === "array" ? [source] : [])),
    hydro: sources.flatMap((source) =>
      source.kind === "hydro" ? [{ id: source.id, powerW: HYDRO_SHARE * source.peakW }] : [],
    ),
    wind: sources.flatMap(({ kind, id, peakW }) =>
      kind === "wind" ? [{ id, ratedW: peakW, elevationM: site.control.elevationM }] : [],
    ),
    dumpV: DUMP_ABOVE * battery.absorptionVoltageV,
    generator: hasGenerator(site) ? generatorFor(site.control.battery) : null,
    programmes: [],
    loads: loads.map(loadPlantSettings),
    panelCount: panels.length,
  };
}

/** A site that can hear a generator has one. */
function hasGenerator({ telemetry }: SiteSettings): boolean {
  return telemetry.some(({ key }) => key === "generator.running" || key === "generator.power");
}

function generatorFor(battery: ControlSettings["battery"]): GeneratorPlantSettings {
  const chargerW = CHARGER_PER_H * battery.capacityAh * battery.nominalVoltageV;
  return { ratedW: chargerW / 0.6, chargerW, chargerEfficiencyFraction: 0.9, warmUpS: 180 };
}

function refuseUnsupported(site: SiteSettings): void {
  const { sources } = site.control;
  const where = `site ${site.id}`;
  if (sources.length === 0) {
    throw new UserError([
      { code: "plant-source", where, key: "arrays", expected: "at least one source to simulate" },
    ]);
  }
}
