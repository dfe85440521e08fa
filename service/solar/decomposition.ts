/** Clearness never counts the sun lower than this: near the horizon the ratio means nothing. */
const ZENITH_COSINE_MIN = 0.065;
/** Lower sun than this gives no beam. [deg] */
const ZENITH_MAX_DEG = 87;

export interface Decomposed {
  readonly beamNormalWm2: number;
  readonly diffuseWm2: number;
}

/**
 * Beam and diffuse light out of the global irradiance alone.
 *
 * A correlation of hourly means: in single minutes, most of all beside bright clouds, the split is
 * off by tens of per cent, while the sum on the horizontal stays what was measured. A record that
 * has the beam is to be preferred.
 *
 * @param globalWm2 - On the horizontal. [W/m²] ≥ 0
 * @returns both ≥ 0; all diffuse at low sun.
 * @source Erbs, Klein & Duffie (1982), with the guards of pvlib `irradiance.erbs`
 * @check test/checks/decomposition.test.ts
 */
export function erbs(
  globalWm2: number,
  zenithDeg: number,
  extraterrestrialNormalWm2: number,
): Decomposed {
  const cosine = Math.cos((zenithDeg * Math.PI) / 180);
  const horizontalWm2 = extraterrestrialNormalWm2 * Math.max(cosine, ZENITH_COSINE_MIN);
  const clearness = Math.min(1, Math.max(0, globalWm2 / horizontalWm2));
  const beamNormalWm2 = (globalWm2 * (1 - diffuseShare(clearness))) / cosine;
  const isUsable = zenithDeg < ZENITH_MAX_DEG && beamNormalWm2 >= 0;
  if (!isUsable) return { beamNormalWm2: 0, diffuseWm2: Math.max(0, globalWm2) };
  return { beamNormalWm2, diffuseWm2: globalWm2 * diffuseShare(clearness) };
}

function diffuseShare(clearness: number): number {
  if (clearness <= 0.22) return 1 - 0.09 * clearness;
  if (clearness > 0.8) return 0.165;
  const square = clearness * clearness;
  return (
    0.9511 -
    0.1604 * clearness +
    4.388 * square -
    16.638 * square * clearness +
    12.336 * square * square
  );
}
