/**
 * A load whose power can be set between two limits, in steps: what it makes of a set-point.
 *
 * @check test/simulator/plant-loads.test.ts
 */
export interface ModulatingPlantSettings {
  readonly minW: number;
  readonly maxW: number;
  readonly stepW: number;
}

/** The set-point rounded down to a step of the device; below its least power it is off. [W] */
export function modulatedW(setW: number, { minW, maxW, stepW }: ModulatingPlantSettings): number {
  if (setW < minW) return 0;
  const steps = Math.floor((Math.min(setW, maxW) - minW) / stepW + 1e-9);
  return minW + steps * stepW;
}
