import { faimanCellTemperatureC } from "./cell-temperature.ts";
import { incidenceCosine } from "./incidence.ts";
import type { SunPosition } from "./sun.ts";
import { planeIrradiance } from "./transposition.ts";
import type { PlaneIrradiance, SkyIrradiance } from "./transposition.ts";

const RAD_PER_DEG = Math.PI / 180;

/** Loss of power with cell temperature, crystalline silicon. [1/K] common practice, no source */
export const DEFAULT_GAMMA_PER_K = -0.0037;

/** Glass transmits less of slanting light: the ASHRAE model's one parameter, from pvlib. [1] */
const ASHRAE_B = 0.05;

/** Light that slants more than this tells nothing of where a plane looks. Ours, no source. [1] */
const COSINE_MIN = 0.05;

/**
 * Share of slanting direct light that passes the glass, against light at right angles. [1] 0…1
 *
 * @source Souka & Safwat (1966), ASHRAE 93-77, as in pvlib `iam.ashrae`
 * @check test/checks/array.test.ts
 */
export function incidenceModifier(cosine: number): number {
  if (cosine <= 0) return 0;
  return Math.max(0, 1 - ASHRAE_B * (1 / cosine - 1));
}

/**
 * DC power of an array. [W] ≥ 0
 *
 * @source NREL, "PVWatts Version 5 Manual" (2014), eq. 8, without its low-light term
 * @check test/checks/array.test.ts
 */
export function arrayDcPowerW(input: {
  readonly irradianceWm2: number;
  readonly cellTemperatureC: number;
  readonly peakW: number;
  readonly gammaPerK: number;
}): number {
  const heat = 1 + input.gammaPerK * (input.cellTemperatureC - 25);
  return Math.max(0, (input.irradianceWm2 / 1000) * input.peakW * heat);
}

interface Plane {
  readonly tiltDeg: number;
  readonly azimuthDeg: number;
}

export interface ArrayPlane extends Plane {
  readonly peakW: number;
}

interface PlaneWeather {
  readonly sun: SunPosition;
  readonly sky: SkyIrradiance;
  readonly extraterrestrialWm2: number;
  readonly albedoFraction: number;
}

export interface ArrayWeather extends PlaneWeather {
  readonly airTemperatureC: number;
  readonly windMS: number;
}

/** What the array could give at its terminals in this weather. [W] ≥ 0 */
export function arrayPotentialW(array: ArrayPlane, weather: ArrayWeather): number {
  const { cosine, light } = lightOn(array, weather);
  const diffuseWm2 = light.skyWm2 + light.groundWm2;
  return arrayDcPowerW({
    irradianceWm2: light.directWm2 * incidenceModifier(cosine) + diffuseWm2,
    cellTemperatureC: faimanCellTemperatureC(
      light.directWm2 + diffuseWm2,
      weather.airTemperatureC,
      weather.windMS,
    ),
    peakW: array.peakW,
    gammaPerK: DEFAULT_GAMMA_PER_K,
  });
}

/** A direction, as long as it is strong. [1] */
export interface Direction {
  readonly east: number;
  readonly north: number;
  readonly up: number;
}

/** At right angles to a plane, of length 1. */
export function planeNormal({ tiltDeg, azimuthDeg }: Plane): Direction {
  return directionTo({ azimuthDeg, altitudeDeg: 90 - tiltDeg });
}

/**
 * Where a plane's power comes from: the sun, and all the rest of the sky, which counts as if it
 * came from straight ahead. The product of this with the plane's own normal is 1; with that of a
 * plane which stands nearly alike it is what that one gives against this one.
 */
export function powerFrom(plane: Plane, weather: PlaneWeather): Direction {
  const normal = planeNormal(plane);
  const { cosine, light } = lightOn(plane, weather);
  if (cosine < COSINE_MIN) return normal;
  const directWm2 = light.directWm2 * incidenceModifier(cosine);
  const diffuseWm2 = light.skyWm2 + light.groundWm2;
  const ofSun = directWm2 / (directWm2 + diffuseWm2) / cosine;
  const ofRest = diffuseWm2 / (directWm2 + diffuseWm2);
  const sun = directionTo(weather.sun);
  return {
    east: ofSun * sun.east + ofRest * normal.east,
    north: ofSun * sun.north + ofRest * normal.north,
    up: ofSun * sun.up + ofRest * normal.up,
  };
}

function directionTo({ azimuthDeg, altitudeDeg }: SunPosition): Direction {
  const azimuth = azimuthDeg * RAD_PER_DEG;
  const altitude = altitudeDeg * RAD_PER_DEG;
  return {
    east: Math.cos(altitude) * Math.sin(azimuth),
    north: Math.cos(altitude) * Math.cos(azimuth),
    up: Math.sin(altitude),
  };
}

/** Light on a plane, as a sensor measures it. [W/m²] ≥ 0 */
export function lightOnPlaneWm2(plane: Plane, weather: PlaneWeather): number {
  const { light } = lightOn(plane, weather);
  return light.directWm2 + light.skyWm2 + light.groundWm2;
}

function lightOn(
  plane: Plane,
  weather: PlaneWeather,
): { readonly cosine: number; readonly light: PlaneIrradiance } {
  const zenithDeg = 90 - weather.sun.altitudeDeg;
  const cosine = incidenceCosine({
    tiltDeg: plane.tiltDeg,
    azimuthDeg: plane.azimuthDeg,
    zenithDeg,
    sunAzimuthDeg: weather.sun.azimuthDeg,
  });
  const light = planeIrradiance({
    tiltDeg: plane.tiltDeg,
    incidenceCosine: cosine,
    zenithCosine: Math.cos(zenithDeg * RAD_PER_DEG),
    sky: weather.sky,
    extraterrestrialWm2: weather.extraterrestrialWm2,
    albedoFraction: weather.albedoFraction,
  });
  return { cosine, light };
}
