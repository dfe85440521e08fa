/**
 * Numbers that a person or a meter wrote with few digits, as whole numbers.
 *
 * A meter sends `52.34`; the service holds the nearest double, times a factor of its unit (0.01 for
 * percent, 1000 for kW), and that product is a long fraction. Written out it costs eight bytes;
 * `5234`, the factor and the number of decimals cost two, and give the very same double back. That
 * it is the same is tried for each value; a column in which one fails is written in full.
 */

/** Places in these lists stand in the files: add at the end, never change. */
const FACTORS = [1, 0.01, 0.001, 1000];
const POWERS = [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000];
/** Sums and differences of such numbers stay whole in a double, and their zigzag does too. */
const WHOLE_MAX = 2_251_799_813_685_247;

interface Scale {
  readonly factorPlace: number;
  readonly powerPlace: number;
}

interface Scaled extends Scale {
  readonly wholes: readonly number[];
}

export function unscale(whole: number, { factorPlace, powerPlace }: Scale): number {
  const factor = FACTORS[factorPlace];
  const power = POWERS[powerPlace];
  if (factor === undefined || power === undefined) return NaN;
  return (whole / power) * factor;
}

/** Whole, not too large to be written as a step, and no zero with a sign, which would be lost. */
export function canBeStepped(whole: number): boolean {
  return Number.isInteger(whole) && Math.abs(whole) <= WHOLE_MAX && !Object.is(whole, -0);
}

/** @returns null if no factor and number of decimals gives every value back to the last bit. */
export function scale(values: readonly number[]): Scaled | null {
  for (let powerPlace = 0; powerPlace < POWERS.length; powerPlace += 1) {
    for (let factorPlace = 0; factorPlace < FACTORS.length; factorPlace += 1) {
      const wholes = wholesOf(values, { factorPlace, powerPlace });
      if (wholes !== null) return { factorPlace, powerPlace, wholes };
    }
  }
  return null;
}

function wholesOf(values: readonly number[], how: Scale): number[] | null {
  const one = unscale(1, how);
  const wholes: number[] = [];
  for (const value of values) {
    const whole = Math.round(value / one);
    if (!canBeStepped(whole) || !Object.is(unscale(whole, how), value)) return null;
    wholes.push(whole);
  }
  return wholes;
}
