/**
 * A battery as the bus sees it. A step holds the current constant; the voltage is the step's mean,
 * so that power × time is exactly what cells and losses account for. Currents are positive when
 * charging; `dtS` 0 asks about this instant.
 */
export interface Battery {
  /** [1] 0…1 */
  socFraction(): number;
  /** What its monitor tells: it can only count. [1] 0…1 */
  monitorFraction(): number;
  /** A charge has been completed: monitors set themselves to full. */
  syncMonitor(): void;
  /** Current at which it takes `powerW` (negative: gives); null: no current can. [A] */
  currentForPower(powerW: number, dtS: number): number | null;
  /** Current that brings the terminals to `voltageV`; may be negative. [A] */
  currentForVoltage(voltageV: number, dtS: number): number;
  /** Mean over the step. [V] */
  terminalVoltageV(currentA: number, dtS: number): number;
  /** Largest current that fills it no further than full. [A] */
  fillingCurrentA(dtS: number): number;
  /** Current (≤ 0) that leaves nothing to draw on. [A] */
  emptyingCurrentA(dtS: number): number;
  /** Carries it over the step. @returns what turned to heat and gas. [Wh] ≥ 0 */
  advance(currentA: number, dtS: number): number;
  /** Energy held, for the energy book: its differences count. [Wh] */
  storedWh(): number;
}
