/** What a stretch of time offers and asks, whoever controls the loads: the bound's raw material. */

export interface BoundStep {
  readonly hours: number;
  /** Local date, days since 1970. */
  readonly localDay: number;
  /** Sources less everyday use, at the battery bus. [W] */
  readonly netW: number;
  /** The least everyday use within the step, AC: where the inverter's losses are smallest. [W] */
  readonly baseMinW: number;
  /** What everyday use leaves of the inverter's rating, AC. [W] */
  readonly headroomW: number;
  /** At its end the sun sets. */
  readonly isSunset: boolean;
  readonly isChargeBlocked: boolean;
  /** State of charge at its end without opportunity loads. [1] 0…1 */
  readonly referenceFraction: number;
  readonly loads: readonly LoadStep[];
}

export interface LoadStep {
  /** Most that it can take on average, AC; 0 in the dark and outside its windows. [W] */
  readonly maxW: number;
  /** Asked of its hot water. [Wh] */
  readonly wantedWh: number;
}

/** One row of how charge can grow: dE/dt ≤ slope · power at the bus + interceptW. */
export interface PowerLine {
  readonly slope: number;
  readonly interceptW: number;
}
