import { extraterrestrialWm2, meanDayOfYear } from "../../service/solar/extraterrestrial.ts";
import { sunPosition } from "../../service/solar/sun.ts";
import { beamShare } from "./cloud.ts";
import { ineichenSky, pressurePa, relativeAirmass, SEA_LEVEL_PA } from "./sky.ts";
import type { ClearSky } from "./sky.ts";

/** Clean mountain or coastal air; no source. [1] */
const LINKE_TURBIDITY = 3;

export interface SkyPlace {
  readonly latitudeDeg: number;
  readonly longitudeDeg: number;
  readonly elevationM: number;
}

/** The clear sky of a place at an instant, with as much of it as a cloud lets through. */
export function cloudedSky(place: SkyPlace, atMs: number, clearIndex: number): ClearSky {
  const { latitudeDeg, longitudeDeg, elevationM } = place;
  const zenithDeg = 90 - sunPosition(atMs, latitudeDeg, longitudeDeg).altitudeDeg;
  if (zenithDeg >= 90) return { globalWm2: 0, beamNormalWm2: 0, diffuseWm2: 0 };
  const clear = ineichenSky({
    zenithDeg,
    absoluteAirmass: (relativeAirmass(zenithDeg) * pressurePa(elevationM)) / SEA_LEVEL_PA,
    linkeTurbidity: LINKE_TURBIDITY,
    elevationM,
    extraterrestrialWm2: extraterrestrialWm2(meanDayOfYear(atMs)),
  });
  const globalWm2 = clear.globalWm2 * clearIndex;
  const beamNormalWm2 = clear.beamNormalWm2 * beamShare(clearIndex);
  const cosine = Math.cos((zenithDeg * Math.PI) / 180);
  return {
    globalWm2,
    beamNormalWm2,
    diffuseWm2: Math.max(0, globalWm2 - beamNormalWm2 * cosine),
  };
}
