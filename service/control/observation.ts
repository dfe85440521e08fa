/**
 * What one tick knows: every signal with its quality, and the time in two forms.
 *
 * Durations (dwell, minimum run, hold) are differences of `monotonicMs`, which no clock change can
 * move; windows, quotas and the sun use the wall clock, and only while it is plausible.
 */

/**
 * - `fresh`: may be acted upon.
 * - `stale`: older than its limit; `value` is the last good one.
 * - `implausible`: the newest message was outside the signal's range, or changed faster than can
 *   be; `value` is the last good one.
 * - `frozen`: it arrives, but has not changed for long while others did.
 * - `waiting`: mapped, but nothing has arrived yet.
 * - `retained`: only a message that the broker had kept; it may be days old.
 * - `unmapped`: the site does not have this signal.
 */
export type Quality =
  "fresh" | "frozen" | "stale" | "retained" | "implausible" | "waiting" | "unmapped";

/** `value` counts only as far as `quality` allows; in `waiting` and `unmapped` it is a filler. */
export interface Reading<T = number> {
  readonly value: T;
  readonly quality: Quality;
  /** Since it arrived. [ms] ≥ 0 */
  readonly ageMs: number;
}

export type ChargeStage = "bulk" | "absorption" | "float" | "equalise";

export interface BatteryObservation {
  /** [1] 0…1 */
  readonly socFraction: Reading;
  /** [V] */
  readonly voltageV: Reading;
  /** Positive: charging. [A] */
  readonly currentA: Reading;
  /** [°C] */
  readonly temperatureC: Reading;
  readonly chargeStage: Reading<ChargeStage>;
  readonly isChargeBlocked: Reading<boolean>;
  readonly isDischargeBlocked: Reading<boolean>;
  /** What the battery's own protection allows now. [A] ≥ 0 */
  readonly chargeLimitA: Reading;
  readonly dischargeLimitA: Reading;
}

export interface SourceObservation {
  /** At the battery bus. [W] ≥ 0 */
  readonly powerW: Reading;
  /** Burnt by the source's own dump. [W] ≥ 0 */
  readonly dumpPowerW: Reading;
  /** Stage of the source's own charge controller. */
  readonly chargeStage: Reading<ChargeStage>;
}

export interface InverterObservation {
  /** AC output. [W] */
  readonly powerW: Reading;
  readonly temperatureC: Reading;
  readonly acVoltageV: Reading;
  readonly frequencyHz: Reading;
  readonly isFaulty: Reading<boolean>;
  /** AC power of each leg, in the order of the settings. [W] */
  readonly legPowersW: readonly Reading[];
}

/** What somebody else expects all arrays to give, from sunrise to sunset of the local day. */
export interface ForecastObservation {
  /** Counts only on the day on which it arrived. [Wh] ≥ 0 */
  readonly todayWh: Reading;
  /** On the day after it, what counts for that day if nothing newer does. [Wh] ≥ 0 */
  readonly tomorrowWh: Reading;
}

/** `clear`: a person has looked at a latched load or panel and takes the latch away. */
export type HumanRequest = "none" | "clear";

/**
 * Besides, of a load: `run` and `hold` (off) for a time, `release`: neither any longer.
 */
export type LoadRequest = HumanRequest | "run" | "hold" | "release";

/**
 * Something learned that a person has forgotten:
 * - `base`: everyday use by the hour;
 * - `sky`: the record of clear and dull days, and how clear it is now;
 * - `battery`: how much of a charge towards full a lead-acid one loses;
 * - `array.<id>`: how an array differs from the model;
 * - `load.<id>`: what a load was seen to draw.
 */
export type Unlearn = "none" | "base" | "sky" | "battery" | `array.${string}` | `load.${string}`;

export interface LoadObservation {
  /** What the actuator says it is at; 0 = off. */
  readonly reportedStage: Reading;
  /** The load's own meter. [W] */
  readonly powerW: Reading;
  readonly isByHand: Reading<boolean>;
  /** [°C] */
  readonly tankTemperatureC: Reading;
  /** Water through a pump. [L/min] */
  readonly flowLPerMin: Reading;
  readonly isSourceLow: Reading<boolean>;
  /** Cistern that a pump fills. [1] 0…1 */
  readonly levelFraction: Reading;
  readonly pipeTemperatureC: Reading;
  /** The button beside the sockets; each message that says so is one press. */
  readonly isPressed: Reading<boolean>;
  readonly request: LoadRequest;
  /** For how long to run or hold; 0 with every other request. [ms] ≥ 0 */
  readonly requestForMs: number;
}

export interface PanelObservation {
  readonly isClosed: Reading<boolean>;
  /** What the whole panel draws. [W] */
  readonly powerW: Reading;
  readonly request: HumanRequest;
}

export interface Observation {
  /** Never goes back within one run of the process. [ms] */
  readonly monotonicMs: number;
  /** Milliseconds since 1970-01-01T00:00:00Z. */
  readonly wallMs: number;
  readonly isWallClockPlausible: boolean;
  /** Days since 1970-01-01 of the local calendar date. */
  readonly localDay: number;
  /** Minutes after local midnight. [min] 0…1439 */
  readonly localMinute: number;
  /** When the local clocks change next, if that is within the coming 24 h; else 0. [ms] */
  readonly clockChangeMs: number;
  /**
   * By how much they are put forward then; less than 0: back; 0, and in recordings of former
   * versions undefined: they are not. [min]
   */
  readonly clockShiftMin: number;
  /** Both broker connections are up. */
  readonly isBrokerConnected: boolean;
  readonly battery: BatteryObservation;
  readonly sources: readonly SourceObservation[];
  readonly inverter: InverterObservation;
  readonly isGeneratorRunning: Reading<boolean>;
  /** What its charger puts into the battery bus. [W] */
  readonly generatorPowerW: Reading;
  /** Everything on the battery bus that is neither source, battery nor inverter. [W] */
  readonly dcLoadsPowerW: Reading;
  readonly forecast: ForecastObservation;
  /** On the irradiance sensor, in its own plane. [W/m²] */
  readonly irradianceWm2: Reading;
  readonly unlearn: Unlearn;
  readonly loads: readonly LoadObservation[];
  readonly panels: readonly PanelObservation[];
}
