/**
 * A lead-acid battery: what it can give at once is a matter of two tanks (kinetic model), what it
 * accepts of a polarisation that grows towards full (after Shepherd), and the nearer to full, the
 * more of the charge makes gas instead.
 *
 * The kinetic model would limit the charge, too, with the pipe that was fitted to discharge. It is
 * not asked: at 88 % it lets no more than a fortieth of the capacity in, at a voltage far below the
 * set-point, while batteries in good order are held at the set-point by far more (common practice,
 * no source). What the first tank has no room for goes straight to the second.
 *
 * The state of charge is the rated capacity less what is missing from full. A monitor cannot see
 * that: it counts with one efficiency for every charge, so it reads low far from full and high near
 * to it, until a completed charge sets it right.
 * Within a step efficiency and resistance are those of its start. Capacity does not shrink in the
 * cold here, and the cells do not age: a winter battery looks some tens of per cent better.
 *
 * @source C. M. Shepherd, "Design of primary and secondary cells II", J. Electrochem. Soc. 112
 * (1965), from memory: only the form of the polarisation term
 * @check test/checks/lead-acid.test.ts
 */
import type { Battery } from "./battery.ts";
import type { LeadAcidSettings } from "./battery-settings.ts";
import { dischargeMaxA, restedTanks, spilled, tanksAfter } from "./kibam.ts";
import type { KibamTanks } from "./kibam.ts";
import { meanRestVoltageV, restEnergyWhPerAh, restVoltageV } from "./lead-acid-cell.ts";

const H_PER_S = 1 / 3600;
const ITERATIONS_MAX = 40;
const CURRENT_TOLERANCE_A = 1e-12;

interface State {
  readonly settings: LeadAcidSettings;
  tanks: KibamTanks;
  /** Kept beside the tanks: their sum would gather rounding. [Ah] below full, ≥ 0 */
  missingAh: number;
  monitorFraction: number;
}

export function createLeadAcid(settings: LeadAcidSettings, socFraction: number): Battery {
  const missingAh = (1 - socFraction) * settings.capacityAh;
  const tanks = restedTanks(settings.tanks, settings.tanks.chargeMaxAh - missingAh);
  const state: State = { settings, tanks, missingAh, monitorFraction: socFraction };
  return {
    socFraction: () => Math.max(0, countedFraction(state)),
    monitorFraction: () => state.monitorFraction,
    syncMonitor: () => {
      state.monitorFraction = 1;
    },
    currentForPower: (powerW, dtS) => currentForPower(state, powerW, dtS),
    currentForVoltage: (voltageV, dtS) => currentForVoltage(state, voltageV, dtS),
    terminalVoltageV: (currentA, dtS) => terminalVoltageV(state, currentA, dtS),
    fillingCurrentA: (dtS) => fillingCurrentA(state, dtS),
    emptyingCurrentA: (dtS) =>
      dtS === 0 ? -Infinity : -dischargeMaxA(settings.tanks, state.tanks, dtS * H_PER_S),
    advance: (currentA, dtS) => advance(state, currentA, dtS),
    storedWh: () =>
      settings.cells * settings.capacityAh * restEnergyWhPerAh(countedFraction(state)),
  };
}

/** May go a little below 0: slow discharge gives more than the rated capacity. [1] */
function countedFraction({ settings, missingAh }: State): number {
  return 1 - missingAh / settings.capacityAh;
}

/** Share of a charging current that is stored. [1] 0…1 */
function storedShare(state: State): number {
  const soc = Math.max(0, countedFraction(state));
  return soc >= 1
    ? 0
    : 1 - Math.exp(state.settings.gassingExponent * Math.log(Math.max(soc, 1e-9)));
}

/** What a current in this direction meets. [Ω] > 0 */
function resistanceOhm(state: State, isCharging: boolean): number {
  const { seriesOhm, polarisationOhm, polarisationSpare } = state.settings;
  if (!isCharging) return seriesOhm;
  return seriesOhm + polarisationOhm / (1 - countedFraction(state) + polarisationSpare);
}

function nextFraction(state: State, currentA: number, dtS: number): number {
  const storedA = currentA > 0 ? currentA * storedShare(state) : currentA;
  return countedFraction(state) + (storedA * dtS * H_PER_S) / state.settings.capacityAh;
}

function meanRestV(state: State, currentA: number, dtS: number): number {
  const next = nextFraction(state, currentA, dtS);
  return state.settings.cells * meanRestVoltageV(countedFraction(state), next);
}

function terminalVoltageV(state: State, currentA: number, dtS: number): number {
  return meanRestV(state, currentA, dtS) + currentA * resistanceOhm(state, currentA > 0);
}

function currentForPower(state: State, powerW: number, dtS: number): number | null {
  const ohm = resistanceOhm(state, powerW > 0);
  let currentA = powerW / (2 * state.settings.cells);
  for (let i = 0; i < ITERATIONS_MAX; i += 1) {
    const restV = meanRestV(state, currentA, dtS);
    const root = restV * restV + 4 * ohm * powerW;
    if (root < 0) return null;
    const nextA = (2 * powerW) / (restV + Math.sqrt(root));
    const isSettled = Math.abs(nextA - currentA) <= CURRENT_TOLERANCE_A * (1 + Math.abs(nextA));
    currentA = nextA;
    if (isSettled) break;
  }
  return currentA;
}

/** The rest voltage hardly moves within a step, so the chord through it converges at once. */
function currentForVoltage(state: State, voltageV: number, dtS: number): number {
  const restV = state.settings.cells * restVoltageV(countedFraction(state));
  const ohm = resistanceOhm(state, voltageV > restV);
  let currentA = (voltageV - restV) / ohm;
  for (let i = 0; i < ITERATIONS_MAX; i += 1) {
    const nextA = (voltageV - meanRestV(state, currentA, dtS)) / ohm;
    const isSettled = Math.abs(nextA - currentA) <= CURRENT_TOLERANCE_A * (1 + Math.abs(nextA));
    currentA = nextA;
    if (isSettled) break;
  }
  return currentA;
}

/** What makes gas fills nothing. */
function fillingCurrentA(state: State, dtS: number): number {
  const share = storedShare(state);
  return dtS === 0 || share === 0 ? Infinity : state.missingAh / (dtS * H_PER_S) / share;
}

function advance(state: State, currentA: number, dtS: number): number {
  const hours = dtS * H_PER_S;
  const isCharging = currentA > 0;
  const restV = meanRestV(state, currentA, dtS);
  const share = isCharging ? storedShare(state) : 1;
  const ohmicWh = currentA * currentA * resistanceOhm(state, isCharging) * hours;
  const storedA = currentA * share;
  const { tanks } = state.settings;
  state.tanks = spilled(tanks, tanksAfter(tanks, state.tanks, { dischargeA: -storedA, hours }));
  state.missingAh = Math.max(0, state.missingAh - storedA * hours);
  const countedAh = currentA * (isCharging ? state.settings.monitorEfficiencyFraction : 1) * hours;
  const monitorFraction = state.monitorFraction + countedAh / state.settings.capacityAh;
  state.monitorFraction = Math.min(1, Math.max(0, monitorFraction));
  return ohmicWh + (1 - share) * currentA * restV * hours;
}
