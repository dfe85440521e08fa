const RAD_PER_DEG = Math.PI / 180;

/** Below this the ratio of beam to horizontal beam runs away at sunrise: cos 89°. */
const ZENITH_COSINE_MIN = 0.01745;

/** Grass and bare ground. [1] common practice, no source */
export const DEFAULT_ALBEDO_FRACTION = 0.25;

export interface SkyIrradiance {
  /** [W/m²] ≥ 0 */
  readonly globalWm2: number;
  /** Normal to the rays. [W/m²] ≥ 0 */
  readonly beamNormalWm2: number;
  /** On the horizontal. [W/m²] ≥ 0 */
  readonly diffuseWm2: number;
}

export interface PlaneIrradiance {
  /** What comes from the sun's direction: beam and the bright ring around it. [W/m²] ≥ 0 */
  readonly directWm2: number;
  /** From the rest of the sky. [W/m²] ≥ 0 */
  readonly skyWm2: number;
  /** From the ground. [W/m²] ≥ 0 */
  readonly groundWm2: number;
}

/**
 * Diffuse light on a tilted plane from a sky that is equally bright all over. [W/m²]
 *
 * @source Liu & Jordan, as eq. 2.15.1 of Duffie & Beckman
 * @check test/checks/transposition.test.ts
 */
export function isotropicSkyWm2(tiltDeg: number, diffuseWm2: number): number {
  return (diffuseWm2 * (1 + Math.cos(tiltDeg * RAD_PER_DEG))) / 2;
}

/** Light that the ground throws onto a tilted plane. [W/m²] @source Duffie & Beckman, eq. 2.15.1 */
export function groundWm2(tiltDeg: number, globalWm2: number, albedoFraction: number): number {
  return (globalWm2 * albedoFraction * (1 - Math.cos(tiltDeg * RAD_PER_DEG))) / 2;
}

/**
 * Diffuse light on a tilted plane by Hay and Davies: the share `beam/extraterrestrial` of it comes
 * from the sun's direction, the rest equally from all the sky. The brightening of the horizon is
 * left out; against Perez' model that costs a few per cent of the diffuse part.
 *
 * @returns `circumsolarWm2` and `isotropicWm2`, which add up to the sky's diffuse light.
 * @source Hay & Davies (1980), as in pvlib `irradiance.haydavies`
 * @check test/checks/transposition.test.ts
 */
export function hayDavies(input: {
  readonly tiltDeg: number;
  readonly incidenceCosine: number;
  readonly zenithCosine: number;
  readonly diffuseWm2: number;
  readonly beamNormalWm2: number;
  readonly extraterrestrialWm2: number;
}): { readonly circumsolarWm2: number; readonly isotropicWm2: number } {
  const anisotropy = Math.min(1, input.beamNormalWm2 / input.extraterrestrialWm2);
  const ratio =
    Math.max(input.incidenceCosine, 0) / Math.max(input.zenithCosine, ZENITH_COSINE_MIN);
  return {
    circumsolarWm2: input.diffuseWm2 * anisotropy * ratio,
    isotropicWm2: isotropicSkyWm2(input.tiltDeg, input.diffuseWm2) * (1 - anisotropy),
  };
}

/**
 * Light on a tilted plane: beam, Hay-Davies sky, ground.
 *
 * @param input.incidenceCosine - Between the rays and the plane's normal. [1] −1…1
 * @param input.zenithCosine - Of the sun's zenith angle. [1] −1…1
 */
export function planeIrradiance(input: {
  readonly tiltDeg: number;
  readonly incidenceCosine: number;
  readonly zenithCosine: number;
  readonly sky: SkyIrradiance;
  readonly extraterrestrialWm2: number;
  readonly albedoFraction: number;
}): PlaneIrradiance {
  const { sky, incidenceCosine } = input;
  const diffuse = hayDavies({
    tiltDeg: input.tiltDeg,
    incidenceCosine,
    zenithCosine: input.zenithCosine,
    diffuseWm2: sky.diffuseWm2,
    beamNormalWm2: sky.beamNormalWm2,
    extraterrestrialWm2: input.extraterrestrialWm2,
  });
  return {
    directWm2: sky.beamNormalWm2 * Math.max(incidenceCosine, 0) + diffuse.circumsolarWm2,
    skyWm2: diffuse.isotropicWm2,
    groundWm2: groundWm2(input.tiltDeg, sky.globalWm2, input.albedoFraction),
  };
}
