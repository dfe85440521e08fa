/**
 * Falling and lifted water. The density is that of cold water; at 60 °C it is 1.7 % less.
 *
 * @check test/checks/hydraulics.test.ts
 */
const STANDARD_GRAVITY_M_S2 = 9.80665;
const WATER_KG_PER_L = 1;
const S_PER_MIN = 60;

/** Power of falling water, or needed to lift it without loss: ρ·g·Q·H. [W] */
export function hydraulicPowerW(flowLPerMin: number, headM: number): number {
  return (WATER_KG_PER_L * STANDARD_GRAVITY_M_S2 * flowLPerMin * headM) / S_PER_MIN;
}

/** Flow that a power lifts. [L/min] ≥ 0 */
export function liftedLPerMin(
  powerW: number,
  pump: { readonly headM: number; readonly efficiencyFraction: number },
): number {
  const usefulW = powerW * pump.efficiencyFraction;
  return (usefulW * S_PER_MIN) / (WATER_KG_PER_L * STANDARD_GRAVITY_M_S2 * pump.headM);
}
