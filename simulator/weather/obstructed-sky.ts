/**
 * What stands between the recorded sky and the arrays, and what no settings file knows: haze, and a
 * horizon that is not flat.
 */
import type { SunPosition } from "../../service/solar/sun.ts";
import type { SkyIrradiance } from "../../service/solar/transposition.ts";

export interface Obstruction {
  /** Of the direct light; half of it still arrives as diffuse light (no source). [1] 0…1 */
  readonly hazeFraction: number;
  readonly horizon: readonly HorizonPart[];
}

/** Clockwise from `fromDeg` to `toDeg` the sun is hidden below `altitudeDeg`. */
export interface HorizonPart {
  readonly fromDeg: number;
  readonly toDeg: number;
  readonly altitudeDeg: number;
}

const RAD_PER_DEG = Math.PI / 180;

/** A ridge hides the sun; what it hides of the sky's diffuse light is left out. */
export function obstructedSky(
  sky: SkyIrradiance,
  sun: SunPosition,
  { hazeFraction, horizon }: Obstruction,
): SkyIrradiance {
  const upward = Math.max(0, Math.sin(sun.altitudeDeg * RAD_PER_DEG));
  const isHidden = horizon.some((part) => hides(part, sun));
  const beamNormalWm2 = isHidden ? 0 : sky.beamNormalWm2 * (1 - hazeFraction);
  const diffuseWm2 = sky.diffuseWm2 + (sky.beamNormalWm2 * hazeFraction * upward) / 2;
  const lostWm2 = (sky.beamNormalWm2 - beamNormalWm2) * upward;
  const globalWm2 = Math.max(0, sky.globalWm2 - lostWm2) + diffuseWm2 - sky.diffuseWm2;
  return { globalWm2, beamNormalWm2, diffuseWm2 };
}

function hides({ fromDeg, toDeg, altitudeDeg }: HorizonPart, sun: SunPosition): boolean {
  const { azimuthDeg } = sun;
  const isWithin =
    fromDeg <= toDeg
      ? azimuthDeg >= fromDeg && azimuthDeg <= toDeg
      : azimuthDeg >= fromDeg || azimuthDeg <= toDeg;
  return isWithin && sun.altitudeDeg < altitudeDeg;
}
