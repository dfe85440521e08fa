import type { SkyIrradiance } from "./transposition.ts";

/** Clean rural air; haze that differs from it shows in what a site learns of its arrays. [1] */
export const DEFAULT_OPTICAL_DEPTH = 0.08;
/** Water in the air overhead, as rain. [cm] common practice, no source */
export const DEFAULT_WATER_CM = 1;
/** The fit ends here: drier air counts as this dry. [cm] */
const WATER_MIN_CM = 0.2;

const RAD_PER_DEG = Math.PI / 180;

export interface Air {
  readonly elevationM: number;
  /** Aerosol optical depth at 700 nm. [1] 0…0.5 */
  readonly opticalDepth: number;
  /** [cm] 0.2…10 */
  readonly waterCm: number;
}

/** Clear sky at a sun's apparent altitude, by the irradiance outside the air. */
export type ClearSky = (altitudeDeg: number, extraterrestrialWm2: number) => SkyIrradiance;

const NIGHT: SkyIrradiance = { globalWm2: 0, beamNormalWm2: 0, diffuseWm2: 0 };

/**
 * Clear sky of a place. The diffuse light is what the beam leaves of the global, so that the three
 * add up; the source has a fit of its own for it, which does not.
 *
 * @source P. Ineichen (2008), "A broadband simplified version of the Solis clear sky model", as in
 * pvlib `clearsky.simplified_solis`
 * @check test/checks/clear-sky-model.test.ts
 */
export function clearSkyOf(air: Air): ClearSky {
  const { opticalDepth: depth, elevationM } = air;
  const water = Math.max(WATER_MIN_CM, air.waterCm);
  const wet = Math.log(water);
  const thin = logPressureRatio(elevationM);
  const enhanced =
    0.12 * Math.exp(0.56 * wet) * depth * depth +
    0.97 * Math.exp(0.032 * wet) * depth +
    1.08 * Math.exp(0.0051 * wet) +
    0.071 * thin;
  const beamDepth =
    (1.82 + 0.056 * wet + 0.0071 * wet * wet) * depth +
    (0.33 + 0.045 * wet + 0.0096 * wet * wet) +
    (0.0089 * water + 0.13) * thin;
  const beamBend =
    (0.00925 * depth * depth + 0.0148 * depth - 0.0172) * wet +
    (-0.7565 * depth * depth + 0.5057 * depth + 0.4557);
  const globalDepth =
    (1.24 + 0.047 * wet + 0.0061 * wet * wet) * depth +
    (0.27 + 0.043 * wet + 0.009 * wet * wet) +
    (0.0079 * water + 0.1) * thin;
  const globalBend = -0.0147 * wet - 0.3079 * depth * depth + 0.2846 * depth + 0.3798;
  return (altitudeDeg, extraterrestrialWm2) => {
    if (altitudeDeg <= 0) return NIGHT;
    const sine = Math.sin(altitudeDeg * RAD_PER_DEG);
    const long = -Math.log(sine);
    const topWm2 = extraterrestrialWm2 * enhanced;
    const globalWm2 = topWm2 * Math.exp(-globalDepth * Math.exp(globalBend * long)) * sine;
    const beamNormalWm2 = topWm2 * Math.exp(-beamDepth * Math.exp(beamBend * long));
    return {
      globalWm2,
      beamNormalWm2,
      diffuseWm2: Math.max(0, globalWm2 - beamNormalWm2 * sine),
    };
  };
}

/** ln(p/p₀) of the mean air pressure at a height. @source pvlib `atmosphere.alt2pres` */
function logPressureRatio(elevationM: number): number {
  const pa = Math.log(100) + Math.log((44331.514 - elevationM) / 11880.516) / 0.1902632;
  return pa - Math.log(101_325);
}
