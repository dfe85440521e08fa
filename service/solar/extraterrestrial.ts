/** Solar constant as pvlib takes it. [W/m²] */
const SOLAR_CONSTANT_WM2 = 1366.1;

const DAY_MS = 86_400_000;
const YEAR_DAYS = 365.2425;

/**
 * Irradiance outside the air, normal to the rays. [W/m²]
 *
 * @param dayOfYear - 1 = 1 January; fractions are allowed. [d]
 * @source J. Spencer (1971), Fourier series as in pvlib `irradiance.get_extra_radiation`
 * @check test/checks/transposition.test.ts
 */
export function extraterrestrialWm2(dayOfYear: number): number {
  const angle = (2 * Math.PI * (dayOfYear - 1)) / 365;
  const factor =
    1.00011 +
    0.034221 * Math.cos(angle) +
    0.00128 * Math.sin(angle) +
    0.000719 * Math.cos(2 * angle) +
    7.7e-5 * Math.sin(2 * angle);
  return SOLAR_CONSTANT_WM2 * factor;
}

/**
 * Day of the year by the mean length of a year: at most a day off, which changes the sun's distance
 * factor by 0.06 %. Exact calendars belong to the shell. [d] 1…366
 */
export function meanDayOfYear(atMs: number): number {
  const days = atMs / DAY_MS;
  return 1 + (days - Math.floor(days / YEAR_DAYS) * YEAR_DAYS);
}
