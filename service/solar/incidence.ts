const RAD_PER_DEG = Math.PI / 180;

export interface Incidence {
  /** From the horizontal. [deg] 0…90 */
  readonly tiltDeg: number;
  /** Of the plane, clockwise from north. [deg] */
  readonly azimuthDeg: number;
  /** Of the sun. [deg] 0…180 */
  readonly zenithDeg: number;
  /** Of the sun, clockwise from north. [deg] */
  readonly sunAzimuthDeg: number;
}

/**
 * Cosine of the angle between the sun's rays and the plane's normal; negative: behind the plane.
 *
 * @source Duffie & Beckman, "Solar Engineering of Thermal Processes", eq. 1.6.3
 * @check test/checks/incidence.test.ts
 */
export function incidenceCosine(input: Incidence): number {
  const tilt = input.tiltDeg * RAD_PER_DEG;
  const zenith = input.zenithDeg * RAD_PER_DEG;
  const turn = (input.sunAzimuthDeg - input.azimuthDeg) * RAD_PER_DEG;
  const cosine =
    Math.cos(tilt) * Math.cos(zenith) + Math.sin(tilt) * Math.sin(zenith) * Math.cos(turn);
  // Rounding may carry it a little past ±1, where acos has no value.
  return Math.min(1, Math.max(-1, cosine));
}
