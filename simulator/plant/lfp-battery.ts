/**
 * The battery as seen from its terminals: open-circuit voltage of the cells, an ohmic resistance,
 * and one slow resistance (an RC pair) for the settling of minutes after a change of current.
 *
 * A step holds the current constant. Voltage is the step's mean, which makes power × time exactly
 * the energy that the cells and the resistances account for.
 */
import {
  cellEnergyWhPerAh,
  cellVoltageV,
  isOnLine,
  lineOf,
  meanCellVoltageV,
  slopeOfLineV,
} from "./lfp-cell.ts";
import type { Battery } from "./battery.ts";
import type { CellSettings } from "./battery-settings.ts";

const H_PER_S = 1 / 3600;
/** Chord iterations, where the cells pass a bend of their curve within the step. */
const ITERATIONS_MAX = 60;
const CURRENT_TOLERANCE_A = 1e-12;
/** Far below what any controller regulates to. [V] */
const VOLTAGE_TOLERANCE_V = 1e-9;

/** Changes in place: one battery lives for a whole replay. */
interface LfpBattery {
  readonly cell: CellSettings;
  socFraction: number;
  /** Over the slow resistance. [V] */
  diffusionV: number;
  /** exp(−t/τ) of the last step's length, its mean, and what they make of the resistance. */
  forS: number;
  decay: number;
  meanDecay: number;
  /** What a constant current meets, averaged over the step. [Ω] */
  effectiveOhm: number;
  /** Line of the cells' curve on which `socFraction` lies, and what they show there. */
  line: number;
  slopeV: number;
  cellsV: number;
}

export function createLfp(cell: CellSettings, socFraction: number): Battery {
  const state: LfpBattery = {
    cell,
    socFraction,
    diffusionV: 0,
    forS: 0,
    decay: 1,
    meanDecay: 1,
    effectiveOhm: cell.seriesOhm,
    line: 0,
    slopeV: 0,
    cellsV: 0,
  };
  findLine(state);
  return {
    socFraction: () => state.socFraction,
    // The cells store what arrives but for 1 %: counting errs by less than other things do.
    monitorFraction: () => state.socFraction,
    syncMonitor: () => undefined,
    currentForPower: (powerW, dtS) => currentForPower(state, powerW, dtS),
    currentForVoltage: (voltageV, dtS) => currentForVoltage(state, voltageV, dtS),
    terminalVoltageV: (currentA, dtS) => terminalVoltageV(state, currentA, dtS),
    fillingCurrentA: (dtS) => fillingCurrentA(state, dtS),
    emptyingCurrentA: (dtS) => emptyingCurrentA(state, dtS),
    advance: (currentA, dtS) => advance(state, currentA, dtS),
    storedWh: () => storedWh(state),
  };
}

/**
 * Current at which the battery takes `powerW` (negative: gives). [A]
 *
 * @returns null if no current can: the battery would have to give more than it is able to.
 */
function currentForPower(battery: LfpBattery, powerW: number, dtS: number): number | null {
  prepare(battery, dtS);
  const offsetV = battery.diffusionV * battery.meanDecay;
  const riseOhm = openRiseOhm(battery, powerW, dtS);
  const found = rootA(battery.cellsV + offsetV, battery.effectiveOhm + riseOhm, powerW);
  if (staysOnLine(battery, found, dtS)) return found;
  return currentBeyondLine(battery, powerW, dtS);
}

/** The current that goes to powerW / openV as the resistance goes to nothing; NaN: none can. [A] */
function rootA(openV: number, resistanceOhm: number, powerW: number): number {
  return (2 * powerW) / (openV + Math.sqrt(openV * openV + 4 * resistanceOhm * powerW));
}

/** Where the step crosses from one line of the cells' curve to another: by chords. */
function currentBeyondLine(battery: LfpBattery, powerW: number, dtS: number): number | null {
  const offsetV = battery.diffusionV * battery.meanDecay;
  let current = powerW / (battery.cell.cells * 3.3);
  for (let i = 0; i < ITERATIONS_MAX; i += 1) {
    const openV = meanOpenV(battery, current, dtS) + offsetV;
    const next = rootA(openV, battery.effectiveOhm, powerW);
    if (Number.isNaN(next)) return null;
    const isSettled = Math.abs(next - current) <= CURRENT_TOLERANCE_A * (1 + Math.abs(next));
    // Half steps after a while: a chord may swing about a knee of the curve.
    current = i < 8 ? next : (current + next) / 2;
    if (isSettled) break;
  }
  return current;
}

/** Current that brings the terminals to `voltageV`; may be negative. [A] */
function currentForVoltage(battery: LfpBattery, voltageV: number, dtS: number): number {
  prepare(battery, dtS);
  const lackingV = voltageV - battery.cellsV - battery.diffusionV * battery.meanDecay;
  const found = lackingV / (battery.effectiveOhm + openRiseOhm(battery, lackingV, dtS));
  return staysOnLine(battery, found, dtS) ? found : currentBetweenBounds(battery, voltageV, dtS);
}

/**
 * Where the step crosses from one line to another. Terminal voltage rises with current, so the root
 * stays between two bounds; the line through them is followed, and the bound that does not move is
 * halved in weight (Illinois).
 */
function currentBetweenBounds(battery: LfpBattery, voltageV: number, dtS: number): number {
  let lowA = (voltageV - battery.cell.cells * 3.7 - battery.diffusionV) / battery.cell.seriesOhm;
  let highA = (voltageV - battery.cell.cells * 1.9 - battery.diffusionV) / battery.cell.seriesOhm;
  let lowV = terminalVoltageV(battery, lowA, dtS) - voltageV;
  let highV = terminalVoltageV(battery, highA, dtS) - voltageV;
  let side = 0;
  let current = lowA;
  for (let i = 0; i < ITERATIONS_MAX; i += 1) {
    current = (lowA * highV - highA * lowV) / (highV - lowV);
    const foundV = terminalVoltageV(battery, current, dtS) - voltageV;
    if (Math.abs(foundV) < VOLTAGE_TOLERANCE_V) break;
    if (foundV > 0) {
      highA = current;
      highV = foundV;
      if (side === 1) lowV /= 2;
      side = 1;
    } else {
      lowA = current;
      lowV = foundV;
      if (side === -1) highV /= 2;
      side = -1;
    }
  }
  return current;
}

/** Mean terminal voltage of a step at this current. [V] */
function terminalVoltageV(battery: LfpBattery, currentA: number, dtS: number): number {
  prepare(battery, dtS);
  const slowV = battery.diffusionV * battery.meanDecay;
  return meanOpenV(battery, currentA, dtS) + slowV + currentA * battery.effectiveOhm;
}

/** Largest current that does not fill the cells beyond full within the step. [A] */
function fillingCurrentA(battery: LfpBattery, dtS: number): number {
  if (dtS === 0) return Infinity;
  const missingAh = (1 - battery.socFraction) * battery.cell.capacityAh;
  return missingAh / (dtS * H_PER_S * battery.cell.coulombicEfficiencyFraction);
}

/** Current (negative) that empties the cells within the step. [A] */
function emptyingCurrentA(battery: LfpBattery, dtS: number): number {
  return dtS === 0 ? -Infinity : (-battery.socFraction * battery.cell.capacityAh) / (dtS * H_PER_S);
}

/**
 * Carries the battery over a step at constant current.
 *
 * @returns what turned to heat in resistances and side reactions. [Wh] ≥ 0
 */
function advance(battery: LfpBattery, currentA: number, dtS: number): number {
  const stepH = dtS * H_PER_S;
  const nextFraction = nextSoc(battery, currentA, dtS);
  const openV = openBetweenV(battery, nextFraction);
  const sideWh =
    currentA > 0 ? (1 - battery.cell.coulombicEfficiencyFraction) * currentA * openV * stepH : 0;
  const ohmicWh = currentA * currentA * battery.cell.seriesOhm * stepH;
  prepare(battery, dtS);
  const { decay } = battery;
  const settledV = currentA * battery.cell.diffusionOhm;
  const startV = battery.diffusionV - settledV;
  // ∫ v²/R of v(t) = settled + start·exp(−t/τ).
  const squareV2S =
    settledV * settledV * dtS +
    2 * settledV * startV * battery.cell.diffusionS * (1 - decay) +
    startV * startV * (battery.cell.diffusionS / 2) * (1 - decay * decay);
  battery.diffusionV = settledV + startV * decay;
  battery.socFraction = nextFraction;
  findLine(battery);
  return sideWh + ohmicWh + (squareV2S / battery.cell.diffusionOhm) * H_PER_S;
}

/** Energy in the cells and in the slow part's capacitance. [Wh] */
function storedWh(battery: LfpBattery): number {
  const capacitanceF = battery.cell.diffusionS / battery.cell.diffusionOhm;
  const chemicalWh =
    battery.cell.cells * battery.cell.capacityAh * cellEnergyWhPerAh(battery.socFraction);
  return chemicalWh + 0.5 * capacitanceF * battery.diffusionV * battery.diffusionV * H_PER_S;
}

/** What depends on the step's length alone: kept, because steps are alike. */
function prepare(battery: LfpBattery, dtS: number): void {
  if (battery.forS === dtS) return;
  const { cell } = battery;
  battery.forS = dtS;
  battery.decay = Math.exp(-dtS / cell.diffusionS);
  battery.meanDecay = dtS === 0 ? 1 : (cell.diffusionS * (1 - battery.decay)) / dtS;
  battery.effectiveOhm = cell.seriesOhm + cell.diffusionOhm * (1 - battery.meanDecay);
}

/** Once a step: all currents that are tried in it start from here. */
function findLine(battery: LfpBattery): void {
  const { socFraction } = battery;
  battery.line = lineOf(Math.min(1, Math.max(0, socFraction)));
  battery.slopeV = battery.cell.cells * slopeOfLineV(battery.line);
  battery.cellsV = battery.cell.cells * cellVoltageV(socFraction);
}

/**
 * While the cells stay on one line, their mean voltage rises with the current just as over a
 * resistance: half of what the charge of the step adds. [Ω]
 *
 * @param direction - Of the current, by its sign.
 */
function openRiseOhm(battery: LfpBattery, direction: number, dtS: number): number {
  return (battery.slopeV * fractionPerA(battery.cell, direction, dtS)) / 2;
}

function staysOnLine(battery: LfpBattery, currentA: number, dtS: number): boolean {
  const change = currentA * fractionPerA(battery.cell, currentA, dtS);
  return isOnLine(battery.line, battery.socFraction + change);
}

function meanOpenV(battery: LfpBattery, currentA: number, dtS: number): number {
  return openBetweenV(battery, nextSoc(battery, currentA, dtS));
}

/** Mean open-circuit voltage from the present charge to another. [V] */
function openBetweenV(battery: LfpBattery, nextFraction: number): number {
  const { line, socFraction, slopeV, cellsV, cell } = battery;
  if (isOnLine(line, nextFraction)) return cellsV + (slopeV * (nextFraction - socFraction)) / 2;
  return cell.cells * meanCellVoltageV(socFraction, nextFraction);
}

function nextSoc(battery: LfpBattery, currentA: number, dtS: number): number {
  const change = currentA * fractionPerA(battery.cell, currentA, dtS);
  return Math.min(1, Math.max(0, battery.socFraction + change));
}

/** Change of the charge for each ampere over the step. [1/A] */
function fractionPerA(cell: CellSettings, direction: number, dtS: number): number {
  const efficiency = direction > 0 ? cell.coulombicEfficiencyFraction : 1;
  return (efficiency * dtS * H_PER_S) / cell.capacityAh;
}
