/**
 * What a wind turbine gives at the battery bus: nothing below cut-in, the cube of the wind up to
 * the rated speed, the rating from there to cut-out, where it furls.
 *
 * Left out: gusts within a row, the way it furls and starts again, and the height of the vane: the
 * record's wind is taken for the wind at the hub, which over rough ground is often a third more.
 */
export interface WindPlantSettings {
  readonly id: string;
  /** At the battery bus. [W] ≥ 0 */
  readonly ratedW: number;
  /** Of the site: thin air carries less. [m] */
  readonly elevationM: number;
}

/** [m/s] common practice for small turbines, no source */
const CUT_IN_MS = 3;
const RATED_MS = 11;
const CUT_OUT_MS = 25;
/** ISA at sea level, to which ratings are given: 15 °C. [K] */
const STANDARD_K = 288.15;
/** g/R of dry air: 9.80665 m/s² over 287.05 J/(kg K). [K/m] */
const GRAVITY_K_PER_M = 9.80665 / 287.05;
/** Of the standard atmosphere. [K/m] */
const LAPSE_K_PER_M = 0.0065;
const ZERO_C_IN_K = 273.15;

/**
 * @param windMS - At the hub. [m/s] ≥ 0
 * @param airTemperatureC - [°C]
 * @returns [W] 0…ratedW
 * @source cubic between cut-in and rated: common practice, no source
 */
export function windTurbineW(
  { ratedW, elevationM }: WindPlantSettings,
  windMS: number,
  airTemperatureC: number,
): number {
  if (windMS >= CUT_OUT_MS) return 0;
  const cube = windMS * windMS * windMS * airDensityFraction(elevationM, airTemperatureC);
  const cutInCube = CUT_IN_MS * CUT_IN_MS * CUT_IN_MS;
  const ratedCube = RATED_MS * RATED_MS * RATED_MS;
  const share = (cube - cutInCube) / (ratedCube - cutInCube);
  return ratedW * Math.min(1, Math.max(0, share));
}

/**
 * Density of the air over that of the standard atmosphere at sea level.
 *
 * The air below is taken to be warmer by the standard 6.5 K/km, which is within 0.1 % of the
 * standard atmosphere up to 2000 m. Weather changes the pressure by some 2 % besides.
 *
 * @returns [1] > 0
 */
export function airDensityFraction(elevationM: number, airTemperatureC: number): number {
  const airK = airTemperatureC + ZERO_C_IN_K;
  const columnK = airK + (LAPSE_K_PER_M * elevationM) / 2;
  return (STANDARD_K / airK) * Math.exp((-GRAVITY_K_PER_M * elevationM) / columnK);
}
