/**
 * What the control core needs to know about a site, in SI numbers only; `config/` makes it of the
 * owner's file. Order matters: observations, memory and decisions list sources, panels and loads in
 * the order in which they stand here.
 */

import type { IrradianceSensorSettings } from "./sensor-settings.ts";

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
  /** Nights of everyday use that an outlook's rule curve keeps on top of the floor. ≥ 0 */
  readonly reserveNights: number;
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
  /** Over this share of the capacity the monitor must follow by half; null: not watched. [1] */
  readonly socFollowsOverFraction: number | null;
  /** Absorption (lead-acid) or a full charge (LFP) is due after these days; null: no rule. */
  readonly fullChargeEveryDays: number | null;
  /** Discharge that is noise or meter error, not a spent reserve. [W] ≥ 0 */
  readonly toleranceW: number;
  /** Greatest current that the maker allows; what the battery itself reports can lower it. [A] */
  readonly chargeLimitA: number | null;
  readonly dischargeLimitA: number | null;
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

/** One phase conductor of a split-phase or three-phase inverter. */
export interface LegSettings {
  readonly id: string;
  /** [VA] > 0 */
  readonly continuousVA: number;
}

export interface InverterSettings {
  /** At the altitude of the place and at `derating.aboveC`. [W] > 0 */
  readonly continuousW: number;
  /** [VA] ≥ continuousW */
  readonly continuousVA: number;
  /** For a second or two. [VA] ≥ continuousVA */
  readonly surgeVA: number;
  /** Loses this share of its ratings for each K above; null: not with temperature. */
  readonly derating: { readonly aboveC: number; readonly perKFraction: number } | null;
  /** Opportunity loads are off above this DC voltage; null: none stated. [V] */
  readonly maxInputV: number | null;
  /** Empty: one leg, of which `continuousVA` says all. */
  readonly legs: readonly LegSettings[];
  /** Own use with no load. [W] ≥ 0 */
  readonly idleW: number;
  /** AC out over DC in, without the idle use. [1] 0…1 */
  readonly efficiencyFraction: number;
  readonly temperatureMaxC: number | null;
  readonly acVoltage: { readonly minV: number; readonly maxV: number } | null;
  readonly frequency: { readonly minHz: number; readonly maxHz: number } | null;
}

/**
 * R(t): the same state of charge at every hour, or what an outlook says; until there is one, and
 * while the clock is in doubt, the fixed curve holds for both.
 */
export type RuleCurveSettings =
  | {
      readonly kind: "fixed";
      /** [1] 0…1 */
      readonly atFraction: number;
    }
  | {
      readonly kind: "outlook";
      readonly atFraction: number;
      /** Share of days that are to turn out no worse than the cautious side. [1] 0…1 */
      readonly cautionFraction: number;
    };

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

/**
 * Measured sources, battery, inverter and DC loads must add up; null: not compared (something that
 * matters is not measured).
 */
export interface BalanceSettings {
  /** The larger of these two may be missing. */
  readonly toleranceW: number;
  readonly toleranceFraction: number;
  readonly forMs: number;
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
  /** null: not known, so that a dry or open element can't be told by the tank's warming. [L] > 0 */
  readonly volumeL: number | null;
}

/** A load whose power can be set between two limits. */
export interface ModulatingSettings {
  /** Least power at which it runs. [W] > 0 */
  readonly minW: number;
  /** [W] > minW */
  readonly maxW: number;
  /** Steps that the device can make. [W] > 0 */
  readonly stepW: number;
  /** Greatest rise. [W/s] > 0 */
  readonly riseWPerS: number;
}

/** A pump's own protections. */
export interface PumpSettings {
  /** Running with less power (or flow) than this for `forMs` means that it runs dry. */
  readonly dryRun: {
    readonly belowW: number | null;
    readonly belowLPerMin: number | null;
    readonly forMs: number;
  } | null;
  /** A contact tells when the source is low. */
  readonly hasSourceContact: boolean;
  /** Cistern at the other end: full at `fullFraction`, wants again at `resumeFraction`. */
  readonly level: { readonly fullFraction: number; readonly resumeFraction: number } | null;
  /** Off at once under this temperature of the pipe; null: not measured. [°C] */
  readonly pipeMinC: number | null;
}

/** A panel with ordinary sockets: what hangs on it is not known, only limited. */
export interface SocketsSettings {
  /** Opened at once above this. [W] ≥ the load's first stage, which is what is expected */
  readonly maximumW: number;
  /** A lamp or sounder is on this long before a stop that is not urgent; 0: no warning. [ms] */
  readonly warnMs: number;
  /** While something is in use on it, a stop that is not urgent waits this much longer. [ms] */
  readonly finishGraceMs: number;
  /** Live only after somebody pressed its button… */
  readonly hasRequest: boolean;
  /** …and for this long. [ms] */
  readonly requestMs: number;
}

/** What a load is to have reached by a time of each day: one of three. */
export interface DeadlineSettings {
  /** Local time. [min] 0…1439 */
  readonly byMinute: number;
  /** Of its tank; null: not this. [°C] */
  readonly reachC: number | null;
  /** Run time of the local day; null: not this. [ms] > 0 */
  readonly reachRunMs: number | null;
  /** Energy of the local day; null: not this. [Wh] AC > 0 */
  readonly reachWh: number | null;
  /** Down to here it may draw on the battery; null: not at all. [1] ≥ the floor */
  readonly mayDrawToFraction: number | null;
}

export interface LoadSettings {
  readonly id: string;
  readonly label: string;
  /** Place of its panel in `panels`; null: wired on its own. */
  readonly panelIndex: number | null;
  /** 1 is served first. */
  readonly priority: number;
  /**
   * Rated AC power of each stage, rising, without off. A switched load has one; a modulating load
   * has its least power, and its `modulating` says how far it can go. [W]
   */
  readonly stagesW: readonly number[];
  readonly modulating: ModulatingSettings | null;
  /** Real over apparent power. [1] 0…1 */
  readonly powerFactor: number;
  /** Apparent power while starting; null: no more than the rated power. [VA] */
  readonly startPowerVA: number | null;
  /** How long that lasts; nothing else starts meanwhile. [ms] */
  readonly startPowerMs: number;
  /** Place in `inverter.legs`; null: on all of them alike. */
  readonly legIndex: number | null;
  /** May be tried while nothing shows yet that there is power for it. */
  readonly isTolerant: boolean;
  /** Starts when the band has been at least this for `startForMs`. [1] */
  readonly startAboveFraction: number;
  readonly startForMs: number;
  /** Stops when the band has been under minus this for `stopForMs`. [1] */
  readonly stopBelowFraction: number;
  readonly stopForMs: number;
  readonly minRunMs: number;
  readonly minRestMs: number;
  readonly startsPerHourMax: number | null;
  /** Per local day; null: no limit. */
  readonly startsPerDayMax: number | null;
  /** Empty: any hour. */
  readonly windows: readonly DayWindow[];
  /** Per local day; null: no quota. */
  readonly quotaRunMs: number | null;
  readonly quotaEnergyWh: number | null;
  readonly deadline: DeadlineSettings | null;
  readonly tank: TankSettings | null;
  readonly pump: PumpSettings | null;
  readonly sockets: SocketsSettings | null;
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
  readonly irradianceSensor: IrradianceSensorSettings | null;
  readonly inverter: InverterSettings;
  readonly ruleCurve: RuleCurveSettings;
  readonly balance: BalanceSettings | null;
  readonly panels: readonly PanelSettings[];
  readonly loads: readonly LoadSettings[];
  /** Between two starts, and between two stops that are not urgent. [ms] > 0 */
  readonly staggerMs: number;
}
