import type { PlantSettings } from "../plant/plant-settings.ts";

/** Set-points are given for this temperature. [°C] */
const REFERENCE_C = 25;

/** No source lifts the bus above this: absorption, or the dump where there is a turbine. [V] */
export function highestSetPointV(plant: PlantSettings, temperatureC: number): number {
  const { absorptionV, compensationVPerK } = plant.charger;
  const compensatedV = absorptionV + compensationVPerK * (temperatureC - REFERENCE_C);
  return plant.hydro.length + plant.wind.length > 0
    ? Math.max(plant.dumpV, compensatedV)
    : compensatedV;
}
