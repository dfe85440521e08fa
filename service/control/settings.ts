/**
 * What the control core needs to know about a site, in SI numbers only.
 *
 * `config/` reads the owner's file and produces this; the core never sees a file, a unit or a
 * default. Order matters: observations, memory and decisions list sources, panels and loads in the
 * order in which they stand here.
 */

export type Chemistry = "lfp" | "flooded" | "agm" | "gel";

export interface BatterySettings {
  readonly chemistry: Chemistry;
  /** Capacity at the rated hours. [Ah] > 0 */
  readonly capacityAh: number;
  /** Hours over which the capacity is rated. [h] > 0; used with the Peukert exponent. */
  readonly ratedHours: number;
  /** Peukert exponent, rated-hour convention. [1] ≥ 1; 1 = capacity independent of rate. */
  readonly peukertExponent: number;
  /** Share of the charging current that is stored. [1] 0…1 */
  readonly coulombicEfficiencyFraction: number;
  /** [V] > 0 */
  readonly nominalVoltageV: number;
  /** Hard reserve: never spent on opportunity loads. [1] 0…1 */
  readonly floorFraction: number;
  /** Opportunity loads are off at once below floor − this. [1] 0…1 */
  readonly floorMarginFraction: number;
  /** State of charge that the owner wants at sunset. [1] 0…1 */
  readonly sunsetTargetFraction: number;
  /** Absorption set-point at 25 °C. [V] > 0 */
  readonly absorptionVoltageV: number;
  /** Float set-point at 25 °C. [V] > 0 */
  readonly floatVoltageV: number;
  /** Change of both set-points with battery temperature, whole battery. [V/K] ≤ 0; 0 for LFP. */
  readonly compensationVPerK: number;
  /** Charging current below which, at the set-point, the battery is full. [A] > 0 */
  readonly tailCurrentA: number;
  /** How long the tail current must have lasted. [ms] */
  readonly fullAfterMs: number;
  /** Opportunity loads are off at once below this. [V] > 0 */
  readonly lowVoltageV: number;
  /** New starts are held above this; null: not watched. [V] */
  readonly highVoltageV: number | null;
  /** For the open-circuit estimate V − I·R. [Ω] ≥ 0 */
  readonly resistanceOhm: number;
  /** Thresholds on the open-circuit voltage when no state of charge can be had; null: none. [V] */
  readonly voltageMode: { readonly startV: number; readonly stopV: number } | null;
  /** Monitor and own count may differ by this before the lower one is used. [1] 0…1 */
  readonly socDisagreementFraction: number;
  /** Absorption (lead-acid) or a full charge (LFP) is due after these days; null: no rule. */
  readonly fullChargeEveryDays: number | null;
  /** Discharge that is noise or meter error, not a spent reserve. [W] ≥ 0 */
  readonly toleranceW: number;
}

export interface ArraySettings {
  readonly id: string;
  readonly kind: "array";
  /** Power at standard test conditions. [W] > 0 */
  readonly peakW: number;
  /** From the horizontal. [deg] 0…90 */
  readonly tiltDeg: number;
  /** Clockwise from north. [deg] 0…360 */
  readonly azimuthDeg: number;
  /** Output current limit of the array's charge controller; null: none known. [A] > 0 */
  readonly currentLimitA: number | null;
}

/** A source that runs at night too and burns what it cannot deliver in a dump of its own. */
export interface SteadySourceSettings {
  readonly id: string;
  readonly kind: "hydro" | "wind";
  /** [W] > 0 */
  readonly peakW: number;
}

export type SourceSettings = ArraySettings | SteadySourceSettings;

export interface InverterSettings {
  /** [W] > 0 */
  readonly continuousW: number;
  /** For a second or two. [VA] ≥ continuousW */
  readonly surgeVA: number;
  /** Own use with no load. [W] ≥ 0 */
  readonly idleW: number;
  /** AC out over DC in, without the idle use. [1] 0…1 */
  readonly efficiencyFraction: number;
  readonly temperatureMaxC: number | null;
  readonly acVoltage: { readonly minV: number; readonly maxV: number } | null;
  readonly frequency: { readonly minHz: number; readonly maxHz: number } | null;
}

/** R(t). One kind for now: the same state of charge at every hour. */
export interface RuleCurveSettings {
  readonly kind: "fixed";
  /** [1] 0…1 */
  readonly atFraction: number;
}

export interface PanelSettings {
  readonly id: string;
  /** Continuous limit of the feeder that supplies the panel. [W] > 0 */
  readonly feederMaxW: number;
  /** The reported position is listened to. */
  readonly hasReport: boolean;
  /** Time in which the contactor must have reported a change. [ms] > 0 */
  readonly settleMs: number;
  /** Stays closed this long after its last load stopped, to spare the contactor. [ms] ≥ 0 */
  readonly openAfterMs: number;
}

/** Local clock time, minutes after midnight; `fromMinute` > `toMinute` spans midnight. */
export interface DayWindow {
  /** [min] 0…1439 */
  readonly fromMinute: number;
  /** [min] 0…1440, not included */
  readonly toMinute: number;
}

export interface TankSettings {
  /** Opportunity heating stops here. [°C] */
  readonly surplusC: number;
  /** …and resumes this much below. [K] > 0 */
  readonly hysteresisK: number;
  /** Off at once at or above this. [°C] > surplusC */
  readonly limitC: number;
}

export interface LoadSettings {
  readonly id: string;
  readonly label: string;
  /** Place of its panel in `panels`; null: wired on its own. */
  readonly panelIndex: number | null;
  /** 1 is served first. */
  readonly priority: number;
  /** Rated AC power of each stage, rising, without off. A switched load has one. [W] */
  readonly stagesW: readonly number[];
  /** Apparent power while starting; null: no more than the rated power. [VA] */
  readonly startPowerVA: number | null;
  /** Starts when the band has been at least this for `startForMs`. [1] */
  readonly startAboveFraction: number;
  readonly startForMs: number;
  /** Stops when the band has been under minus this for `stopForMs`. [1] */
  readonly stopBelowFraction: number;
  readonly stopForMs: number;
  readonly minRunMs: number;
  readonly minRestMs: number;
  readonly startsPerHourMax: number | null;
  /** Empty: any hour. */
  readonly windows: readonly DayWindow[];
  /** Per local day; null: no quota. */
  readonly quotaRunMs: number | null;
  readonly quotaEnergyWh: number | null;
  readonly tank: TankSettings | null;
  /** Time from a command to its report and its step in power. [ms] > 0 */
  readonly settleMs: number;
  /** An actuator's report is listened to. */
  readonly hasReport: boolean;
  /** The load's own power is metered. */
  readonly hasMeter: boolean;
  /** An input that says the actuator was switched at the device itself. */
  readonly hasByHandInput: boolean;
  /** Failed confirmations in a row that latch the load off. ≥ 1 */
  readonly latchAfter: number;
  readonly mayLoadGenerator: boolean;
}

export interface ControlSettings {
  readonly tickMs: number;
  readonly latitudeDeg: number;
  readonly longitudeDeg: number;
  readonly elevationM: number;
  readonly battery: BatterySettings;
  readonly sources: readonly SourceSettings[];
  readonly inverter: InverterSettings;
  readonly ruleCurve: RuleCurveSettings;
  readonly panels: readonly PanelSettings[];
  readonly loads: readonly LoadSettings[];
  /** Between two starts, and between two stops that are not urgent. [ms] > 0 */
  readonly staggerMs: number;
}
