/**
 * Open-circuit voltage of one lead-acid cell at rest, as straight lines between the points of a
 * battery maker's table. Its small change with temperature is left out (about 0.2 mV/K, from
 * memory), and so is surface charge, which a charge controller sees for an hour after charging.
 *
 * @source Table of a battery maker's technical article, CHECKS BA-2, 26.7 °C
 * @check test/checks/lead-acid.test.ts
 */
const VOLTAGES_V = [1.982, 2.01, 2.04, 2.075, 2.108] as const;
const LINES = VOLTAGES_V.length - 1;
const VOLTAGE = Float64Array.from(VOLTAGES_V);
/** Integral of the voltage from 0 to each point. [V] */
const INTEGRAL = VOLTAGE.map((_, i) => {
  let sum = 0;
  for (let j = 0; j < i; j += 1) sum += (at(VOLTAGE, j) + at(VOLTAGE, j + 1)) / (2 * LINES);
  return sum;
});

/** Open-circuit voltage. [V] @param socFraction - The end lines go on beyond 0 and 1. */
export function restVoltageV(socFraction: number): number {
  const line = lineOf(socFraction);
  const slopeV = (at(VOLTAGE, line + 1) - at(VOLTAGE, line)) * LINES;
  return at(VOLTAGE, line) + slopeV * (socFraction - line / LINES);
}

/** Exact integral of `restVoltageV`, so that the energy book closes. [Wh/Ah] */
export function restEnergyWhPerAh(socFraction: number): number {
  const line = lineOf(socFraction);
  const beyond = socFraction - line / LINES;
  return at(INTEGRAL, line) + ((at(VOLTAGE, line) + restVoltageV(socFraction)) / 2) * beyond;
}

/** Mean between two states of charge. [V] */
export function meanRestVoltageV(fromFraction: number, toFraction: number): number {
  if (lineOf(fromFraction) === lineOf(toFraction)) {
    return restVoltageV((fromFraction + toFraction) / 2);
  }
  const energy = restEnergyWhPerAh(toFraction) - restEnergyWhPerAh(fromFraction);
  return energy / (toFraction - fromFraction);
}

function lineOf(socFraction: number): number {
  return Math.min(LINES - 1, Math.max(0, Math.floor(socFraction * LINES)));
}

function at(values: Float64Array, index: number): number {
  return values[index] ?? 0;
}
