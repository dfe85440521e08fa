/**
 * Open-circuit voltage of one LFP cell against state of charge, as straight lines between points.
 *
 * Thinned from the 600 measured points of an APR18650M1B cell to those that keep every measured
 * point within 2 mV. One curve for charge and discharge: the real cell's hysteresis of some 20 mV
 * is left out, so that a voltage reader looks a little better here than in a shed.
 *
 * @source S. Sunil et al., IEEE TIM 2025, open data: C/32 pseudo-OCV (MIT licence)
 * @check test/checks/lfp-cell.test.ts
 */
const POINTS: readonly (readonly [socFraction: number, voltageV: number])[] = [
  [0.0, 2.0102],
  [0.0017, 2.279],
  [0.0033, 2.4177],
  [0.005, 2.5168],
  [0.0067, 2.5951],
  [0.0083, 2.6562],
  [0.01, 2.7023],
  [0.0117, 2.7405],
  [0.0134, 2.7725],
  [0.0167, 2.8236],
  [0.0217, 2.8829],
  [0.0267, 2.9299],
  [0.0334, 2.9804],
  [0.0434, 3.0399],
  [0.0551, 3.0942],
  [0.0701, 3.1487],
  [0.0835, 3.1855],
  [0.0935, 3.1994],
  [0.1686, 3.2235],
  [0.2254, 3.2524],
  [0.3055, 3.279],
  [0.4007, 3.2949],
  [0.6594, 3.3082],
  [0.7179, 3.3224],
  [0.7596, 3.3343],
  [0.9766, 3.3463],
  [0.985, 3.3537],
  [0.9883, 3.3627],
  [0.9917, 3.381],
  [0.9933, 3.3962],
  [0.995, 3.418],
  [0.9967, 3.4491],
  [0.9983, 3.4955],
  [1.0, 3.5981],
];

const SOC = Float64Array.from(POINTS, ([socFraction]) => socFraction);
const VOLTAGE = Float64Array.from(POINTS, ([, voltageV]) => voltageV);
/** Of the line that begins at each point. [V] */
const SLOPE = Float64Array.from({ length: POINTS.length - 1 }, (_, i) => slopeAfter(i));
/** Integral of the voltage from empty to each point. [V] */
const INTEGRAL = cumulativeIntegral();
/** Which line holds at each 2048th of the charge: finer than the points lie. */
const BUCKETS = 2048;
const LINE_AT = Uint8Array.from({ length: BUCKETS + 1 }, (_, i) => lineSearched(i / BUCKETS));

function slopeAfter(i: number): number {
  return (at(VOLTAGE, i + 1) - at(VOLTAGE, i)) / (at(SOC, i + 1) - at(SOC, i));
}

function cumulativeIntegral(): Float64Array {
  const integral = new Float64Array(SOC.length);
  for (let i = 1; i < SOC.length; i += 1) {
    const mean = (at(VOLTAGE, i) + at(VOLTAGE, i - 1)) / 2;
    integral[i] = at(integral, i - 1) + mean * (at(SOC, i) - at(SOC, i - 1));
  }
  return integral;
}

function lineSearched(socFraction: number): number {
  let line = 0;
  while (line < SOC.length - 2 && at(SOC, line + 1) <= socFraction) line += 1;
  return line;
}

/** Open-circuit voltage of one cell. [V] @param socFraction - Clamped to 0…1. */
export function cellVoltageV(socFraction: number): number {
  const soc = clamped(socFraction);
  const line = lineOf(soc);
  return at(VOLTAGE, line) + at(SLOPE, line) * (soc - at(SOC, line));
}

/**
 * Energy of one cell per Ah of capacity, from empty. [Wh/Ah]
 *
 * The exact integral of the straight lines, so that the energy book closes to rounding.
 */
export function cellEnergyWhPerAh(socFraction: number): number {
  const soc = clamped(socFraction);
  const line = lineOf(soc);
  const beyond = soc - at(SOC, line);
  return at(INTEGRAL, line) + (at(VOLTAGE, line) + (at(SLOPE, line) * beyond) / 2) * beyond;
}

/** Mean open-circuit voltage of one cell between two states of charge. [V] */
export function meanCellVoltageV(fromFraction: number, toFraction: number): number {
  const from = clamped(fromFraction);
  const to = clamped(toFraction);
  const line = lineOf(from);
  if (line === lineOf(to)) {
    return at(VOLTAGE, line) + at(SLOPE, line) * ((from + to) / 2 - at(SOC, line));
  }
  return (cellEnergyWhPerAh(to) - cellEnergyWhPerAh(from)) / (to - from);
}

/** Rise of the open-circuit voltage over the line. [V per 1] > 0 */
export function slopeOfLineV(line: number): number {
  return at(SLOPE, line);
}

/** Whether the line holds at a state of charge; both ends of the scale count as outside. */
export function isOnLine(line: number, socFraction: number): boolean {
  return socFraction > at(SOC, line) && socFraction < at(SOC, line + 1);
}

/** Which straight line holds. @param soc - 0…1 */
export function lineOf(soc: number): number {
  let line = LINE_AT[Math.floor(soc * BUCKETS)] ?? 0;
  while (line < SLOPE.length - 1 && at(SOC, line + 1) <= soc) line += 1;
  return line;
}

function clamped(socFraction: number): number {
  return Math.min(1, Math.max(0, socFraction));
}

function at(values: Float64Array, index: number): number {
  return values[index] ?? 0;
}
