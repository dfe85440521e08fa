/**
 * The battery as seen from its terminals: open-circuit voltage of the cells, an ohmic resistance,
 * and one slow resistance (an RC pair) for the settling of minutes after a change of current.
 *
 * A step holds the current constant. Voltage is the step's mean, which makes power × time exactly
 * the energy that the cells and the resistances account for.
 */
import { cellEnergyWhPerAh, meanCellVoltageV } from "./lfp-cell.ts";
import type { CellSettings } from "./plant-settings.ts";

const H_PER_S = 1 / 3600;
/** Chord iterations: two suffice on the plateau; the knees at both ends need a few more. */
const ITERATIONS_MAX = 60;
const CURRENT_TOLERANCE_A = 1e-12;

/** Changes in place: one battery lives for a whole replay. */
export interface LfpBattery {
  readonly cell: CellSettings;
  socFraction: number;
  /** Over the slow resistance. [V] */
  diffusionV: number;
}

/** Terminal voltage at constant current over the step, as a line plus the cells' own curve. */
interface StepLine {
  /** [V] */
  readonly offsetV: number;
  /** [Ω] */
  readonly resistanceOhm: number;
}

/**
 * Current at which the battery takes `powerW` (negative: gives). [A]
 *
 * @returns null if no current can: the battery would have to give more than it is able to.
 */
export function currentForPower(battery: LfpBattery, powerW: number, dtS: number): number | null {
  const { offsetV, resistanceOhm } = stepLine(battery, dtS);
  let current = powerW / (battery.cell.cells * 3.3);
  for (let i = 0; i < ITERATIONS_MAX; i += 1) {
    const openV = meanOpenV(battery, current, dtS) + offsetV;
    const root = openV * openV + 4 * resistanceOhm * powerW;
    if (root < 0) return null;
    // The root that goes to powerW / openV as the resistance goes to nothing.
    const next = (2 * powerW) / (openV + Math.sqrt(root));
    const isSettled = Math.abs(next - current) <= CURRENT_TOLERANCE_A * (1 + Math.abs(next));
    // Half steps after a while: a chord may swing about a knee of the curve.
    current = i < 8 ? next : (current + next) / 2;
    if (isSettled) break;
  }
  return current;
}

/** Current that brings the terminals to `voltageV`; may be negative. [A] */
export function currentForVoltage(battery: LfpBattery, voltageV: number, dtS: number): number {
  const { offsetV, resistanceOhm } = stepLine(battery, dtS);
  // Terminal voltage rises with current, so the root is bracketed and halving finds it.
  let low = (voltageV - battery.cell.cells * 3.7 - offsetV) / resistanceOhm;
  let high = (voltageV - battery.cell.cells * 1.9 - offsetV) / resistanceOhm;
  for (let i = 0; i < ITERATIONS_MAX && high - low > 1e-9; i += 1) {
    const middle = (low + high) / 2;
    const foundV = meanOpenV(battery, middle, dtS) + offsetV + middle * resistanceOhm;
    if (foundV > voltageV) high = middle;
    else low = middle;
  }
  return low;
}

/** Mean terminal voltage of a step at this current. [V] */
export function terminalVoltageV(battery: LfpBattery, currentA: number, dtS: number): number {
  const { offsetV, resistanceOhm } = stepLine(battery, dtS);
  return meanOpenV(battery, currentA, dtS) + offsetV + currentA * resistanceOhm;
}

/** Largest current that does not fill the cells beyond full within the step. [A] */
export function fillingCurrentA(battery: LfpBattery, dtS: number): number {
  if (dtS === 0) return Infinity;
  const missingAh = (1 - battery.socFraction) * battery.cell.capacityAh;
  return missingAh / (dtS * H_PER_S * battery.cell.coulombicEfficiencyFraction);
}

/** Current (negative) that empties the cells within the step. [A] */
export function emptyingCurrentA(battery: LfpBattery, dtS: number): number {
  return dtS === 0 ? -Infinity : (-battery.socFraction * battery.cell.capacityAh) / (dtS * H_PER_S);
}

/**
 * Carries the battery over a step at constant current.
 *
 * @returns what turned to heat in resistances and side reactions. [Wh] ≥ 0
 */
export function advanceBattery(battery: LfpBattery, currentA: number, dtS: number): number {
  const stepH = dtS * H_PER_S;
  const nextFraction = nextSoc(battery, currentA, dtS);
  const openV = battery.cell.cells * meanCellVoltageV(battery.socFraction, nextFraction);
  const sideWh =
    currentA > 0 ? (1 - battery.cell.coulombicEfficiencyFraction) * currentA * openV * stepH : 0;
  const ohmicWh = currentA * currentA * battery.cell.seriesOhm * stepH;
  const decay = Math.exp(-dtS / battery.cell.diffusionS);
  const settledV = currentA * battery.cell.diffusionOhm;
  const startV = battery.diffusionV - settledV;
  // ∫ v²/R of v(t) = settled + start·exp(−t/τ).
  const squareV2S =
    settledV * settledV * dtS +
    2 * settledV * startV * battery.cell.diffusionS * (1 - decay) +
    startV * startV * (battery.cell.diffusionS / 2) * (1 - decay * decay);
  battery.diffusionV = settledV + startV * decay;
  battery.socFraction = nextFraction;
  return sideWh + ohmicWh + (squareV2S / battery.cell.diffusionOhm) * H_PER_S;
}

/** Energy in the cells and in the slow part's capacitance. [Wh] */
export function storedWh(battery: LfpBattery): number {
  const capacitanceF = battery.cell.diffusionS / battery.cell.diffusionOhm;
  const chemicalWh =
    battery.cell.cells * battery.cell.capacityAh * cellEnergyWhPerAh(battery.socFraction);
  return chemicalWh + 0.5 * capacitanceF * battery.diffusionV * battery.diffusionV * H_PER_S;
}

function stepLine(battery: LfpBattery, dtS: number): StepLine {
  const decay = Math.exp(-dtS / battery.cell.diffusionS);
  // Mean of exp(−t/τ) over the step.
  const mean = dtS === 0 ? 1 : (battery.cell.diffusionS * (1 - decay)) / dtS;
  return {
    offsetV: battery.diffusionV * mean,
    resistanceOhm: battery.cell.seriesOhm + battery.cell.diffusionOhm * (1 - mean),
  };
}

function meanOpenV(battery: LfpBattery, currentA: number, dtS: number): number {
  const next = nextSoc(battery, currentA, dtS);
  return battery.cell.cells * meanCellVoltageV(battery.socFraction, next);
}

function nextSoc(battery: LfpBattery, currentA: number, dtS: number): number {
  const efficiency = currentA > 0 ? battery.cell.coulombicEfficiencyFraction : 1;
  const change = (currentA * efficiency * dtS * H_PER_S) / battery.cell.capacityAh;
  return Math.min(1, Math.max(0, battery.socFraction + change));
}
