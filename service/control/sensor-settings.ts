/** The light sensor, as if it were an array of 1 kW in its plane: a watt for each W/m². */
export interface IrradianceSensorSettings {
  readonly peakW: 1000;
  /** From the horizontal. [deg] 0…90 */
  readonly tiltDeg: number;
  /** Clockwise from north. [deg] 0…360 */
  readonly azimuthDeg: number;
}
