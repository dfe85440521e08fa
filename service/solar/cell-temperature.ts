/** Heat loss of a module on an open rack, without wind. [W/(m²·K)] Faiman (2008) */
export const FAIMAN_U0 = 25;
/** …and what each m/s of wind adds. [W·s/(m³·K)] */
export const FAIMAN_U1 = 6.84;

/**
 * Temperature of the cells. [°C]
 *
 * Steady state: a real module lags by some minutes, so under broken cloud the true temperature is
 * smoother; the mean is right and power errs by under 1 %.
 *
 * @param irradianceWm2 - On the plane. [W/m²] ≥ 0
 * @param windMS - At module height. [m/s] ≥ 0
 * @source D. Faiman (2008), "Assessing the outdoor operating temperature of photovoltaic modules"
 * @check test/checks/cell-temperature.test.ts
 */
export function faimanCellTemperatureC(
  irradianceWm2: number,
  airTemperatureC: number,
  windMS: number,
): number {
  return airTemperatureC + irradianceWm2 / (FAIMAN_U0 + FAIMAN_U1 * windMS);
}
