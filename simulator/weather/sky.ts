/**
 * Clear sky of the simulated shed: Ineichen and Perez with a fixed turbidity. The controller's own
 * sky (`service/solar/clear-sky.ts`) is another model, so that it never meets its own assumptions.
 */
const RAD_PER_DEG = Math.PI / 180;

export interface ClearSky {
  readonly globalWm2: number;
  readonly beamNormalWm2: number;
  readonly diffuseWm2: number;
}

export interface SkyInput {
  /** Apparent. [deg] */
  readonly zenithDeg: number;
  readonly absoluteAirmass: number;
  /** Linke turbidity: 2 very clear, 3 rural, 5 hazy. [1] */
  readonly linkeTurbidity: number;
  readonly elevationM: number;
  readonly extraterrestrialWm2: number;
}

/**
 * @source Ineichen & Perez (2002) with the beam limit of pvlib `clearsky.ineichen`
 * @check test/checks/clear-sky.test.ts
 */
export function ineichenSky(input: SkyInput): ClearSky {
  const { elevationM: height, linkeTurbidity: turbidity, extraterrestrialWm2: extra } = input;
  const cosine = Math.max(0, Math.cos(input.zenithDeg * RAD_PER_DEG));
  if (cosine === 0 || input.zenithDeg >= 90) {
    return { globalWm2: 0, beamNormalWm2: 0, diffuseWm2: 0 };
  }
  const fh1 = Math.exp(-height / 8000);
  const fh2 = Math.exp(-height / 1250);
  const cg1 = 5.09e-5 * height + 0.868;
  const cg2 = 3.92e-5 * height + 0.0387;
  const airmass = input.absoluteAirmass;
  const globalWm2 = cg1 * extra * cosine * Math.exp(-cg2 * airmass * (fh1 + fh2 * (turbidity - 1)));
  const beam = (0.664 + 0.163 / fh1) * Math.exp(-0.09 * airmass * (turbidity - 1)) * extra;
  const share = 1 - (0.1 - 0.2 * Math.exp(-turbidity)) / (0.1 + 0.882 / fh1);
  const beamNormalWm2 = Math.min(beam, (globalWm2 * share) / cosine);
  return { globalWm2, beamNormalWm2, diffuseWm2: globalWm2 - beamNormalWm2 * cosine };
}

/**
 * Air along the ray against air overhead. [1]; Infinity never: at the horizon it is 37.
 *
 * @param zenithDeg - Apparent. [deg] 0…90
 * @source Kasten & Young (1989)
 * @check test/checks/clear-sky.test.ts
 */
export function relativeAirmass(zenithDeg: number): number {
  const term = 0.50572 * powerOf(6.07995 + (90 - zenithDeg), -1.6364);
  return 1 / (Math.cos(zenithDeg * RAD_PER_DEG) + term);
}

/** Mean air pressure at a height. [Pa] @source pvlib `atmosphere.alt2pres` */
export function pressurePa(elevationM: number): number {
  return 100 * powerOf((44331.514 - elevationM) / 11880.516, 1 / 0.1902632);
}

/** Sea level, where the relative airmass is also the absolute one. [Pa] */
export const SEA_LEVEL_PA = 101_325;

/** `Math.pow` gives different last digits in different engines; exp and log do not. */
function powerOf(base: number, exponent: number): number {
  return Math.exp(exponent * Math.log(base));
}
