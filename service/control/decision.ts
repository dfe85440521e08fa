/** What one tick decides: the wanted state of every actuator, and why. */
import type { ChargeStage } from "./observation.ts";
import type { SiteCode } from "./site-codes.ts";
import type { VerdictCode } from "./verdict-codes.ts";

/** Where the state of charge comes from; `none`: no opportunity load may run. */
export type SocSource = "monitor" | "count" | "voltage" | "none";

/** The site's own figures at this tick; every verdict is to be read beside them. */
export interface SiteVerdict {
  readonly socSource: SocSource;
  /** [1] 0…1; null in voltage mode and without any source. */
  readonly socFraction: number | null;
  readonly chargeStage: ChargeStage | null;
  /** R(t). [1] 0…1 */
  readonly ruleCurveFraction: number;
  /** Where R(t) comes from, if from an outlook; null: the fixed curve is in use. */
  readonly outlook: OutlookView | null;
  /** SOC − R(t). [1] */
  readonly bandFraction: number | null;
  /** Positive: charging. [W] */
  readonly batteryPowerW: number | null;
  /** What the sources deliver now, at the battery bus. [W] ≥ 0 */
  readonly sourcesPowerW: number;
  /** Essential use: inverter input less what opportunity loads draw, at the battery bus. [W] */
  readonly basePowerW: number | null;
  /** What the battery is to get first. [W] ≥ 0 */
  readonly claimW: number;
  /**
   * A further load may draw this much, at the battery bus, without borrowing from the band; below 0
   * the battery already gives. [W]; null where no battery current is measured.
   */
  readonly availableW: number | null;
  /**
   * What the sources could give now, at the battery bus: a range that is to hold in four cases of
   * five, and the middle of it. [W]; null while it is not known.
   */
  readonly potentialLowW: number | null;
  readonly potentialW: number | null;
  readonly potentialHighW: number | null;
  /** Of the low potential, what is neither delivered nor dumped: arrays held back. [W] ≥ 0 */
  readonly hiddenLowW: number;
  /** …and what a load may be started on, since it has to prove itself. [W] ≥ `hiddenLowW` */
  readonly hiddenStartW: number;
  /** Energy above the rule curve that the band may lend now. [Wh] ≥ 0 */
  readonly lendableWh: number;
  /** Continuous rating less present output. [W]; null if the output is not known. */
  readonly inverterHeadroomW: number | null;
  readonly isDaylight: boolean | null;
  /** The charge controllers hold the arrays back, so that the potential cannot be seen. */
  readonly isCurtailed: boolean;
  /** V − I·R, for voltage mode. [V]; null while the voltage is not known. */
  readonly restVoltageV: number | null;
  /** A full charge is overdue: the battery is to get all that it takes. */
  readonly isFullChargeDue: boolean;
  /** What is wrong with the site as a whole; empty when all is well. */
  readonly findings: readonly SiteFinding[];
}

/** What the rule curve rests on: from now to the next sunset. */
export interface OutlookView {
  /** What the sources are likely to give. [Wh] ≥ 0 */
  readonly expectedWh: number;
  /** …and on the cautious side, which the rule curve counts with. */
  readonly cautiousWh: number;
  /** Everyday use. [Wh] ≥ 0 */
  readonly baseWh: number;
  /** State of charge at sunset if no opportunity load runs from now on. [1] 0…1 */
  readonly sunsetSocFraction: number;
  readonly sunsetMs: number;
  /** The battery is to be full by then. */
  readonly isCompleting: boolean;
  /** When the band lets each load start, by its place in the settings; null: not before sunset. */
  readonly startsAtMs: readonly (number | null)[];
}

/** `measured` and `limit` mean what the dictionary says under `code`. */
export interface SiteFinding {
  readonly code: SiteCode;
  readonly measured: number | null;
  readonly limit: number | null;
}

/**
 * Why a load is as it is. `measured` and `limit` carry the two numbers that decided it; their
 * meaning and unit are in the dictionary (`verdict-codes.ts`) under `code`.
 */
export interface Verdict {
  readonly code: VerdictCode;
  /** Commanded stage after all passes; 0 = off. */
  readonly stage: number;
  readonly measured: number | null;
  readonly limit: number | null;
  /** Time until this verdict is expected to change, where that is known. [ms] ≥ 0 */
  readonly remainingMs: number | null;
}

export interface CoreEvent {
  /** `site`, `load` or `panel`; `index` is the place in the settings' list (0 for the site). */
  readonly about: "site" | "load" | "panel";
  readonly index: number;
  readonly change: "started" | "stopped" | "stage" | "raised" | "cleared" | "closed" | "opened";
  readonly code: VerdictCode | SiteCode;
}

export interface Decision {
  readonly site: SiteVerdict;
  /** Wanted stage of each load, in the order of the settings; 0 = off. */
  readonly loadStages: readonly number[];
  /** AC power that each load is allotted: of its stage, or its set-point if modulating. [W] */
  readonly loadPowersW: readonly number[];
  /** Lamp or sounder of each load: it will be switched off soon. */
  readonly loadWarnings: readonly boolean[];
  /** Wanted position of each panel's contactor. */
  readonly panelsClosed: readonly boolean[];
  /** One for each load. */
  readonly verdicts: readonly Verdict[];
  /** Why each panel is as it is. */
  readonly panelVerdicts: readonly Verdict[];
  /** Changes since the tick before; an alarm is raised once and cleared once. */
  readonly events: readonly CoreEvent[];
}
