/** A stream of numbers that is the same for the same seed on every machine. */
export interface Random {
  /** Evenly spread. [1] 0 ≤ x < 1 */
  uniform(): number;
  between(min: number, max: number): number;
  /** Waiting time of events that come on average once in `mean`. */
  exponential(mean: number): number;
}

/**
 * A 32-bit generator of integer operations only, so that no engine's arithmetic can change it.
 *
 * @source Counter with the finaliser of MurmurHash3 (A. Appleby, public domain), constants from
 * memory; quality is checked, not assumed.
 * @check test/simulator/random.test.ts
 */
export function createRandom(seed: number): Random {
  let counter = seed | 0;
  const uniform = (): number => {
    counter = (counter + 0x9e3779b9) | 0;
    let bits = counter;
    bits = Math.imul(bits ^ (bits >>> 16), 0x85ebca6b);
    bits = Math.imul(bits ^ (bits >>> 13), 0xc2b2ae35);
    bits ^= bits >>> 16;
    return (bits >>> 0) / 0x100000000;
  };
  return {
    uniform,
    between: (min, max) => min + (max - min) * uniform(),
    exponential: (mean) => -mean * Math.log(1 - uniform()),
  };
}
