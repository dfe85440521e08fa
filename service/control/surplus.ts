/**
 * What is left over: potential − base − claim, at the battery bus.
 *
 * The problem: while the charge controllers hold the arrays back, nothing measured says how much
 * more there would be. What *is* measured is what the battery takes: every watt that flows into it
 * beyond its claim could go into a load instead. So the power on offer is battery power − claim,
 * plus what a turbine's own dump burns, and it is a lower bound while the arrays are held back.
 *
 * What lies above the rule curve may be lent besides: by day the band may carry a load through a
 * cloud, or through the try that shows whether a held-back array can carry it. At night it lends
 * nothing; nor does a fixed curve towards sunset, which knows of no sun to make that good, nor an
 * outlook the last part of the band, since it may be wrong.
 */
import { isAtChargeLimit, isChargeBlocked } from "./battery-limits.ts";
import type { OutlookView, SiteVerdict } from "./decision.ts";
import { itemAt } from "./item-at.ts";
import type { LoadMemory } from "./memory.ts";
import type { Observation, Reading } from "./observation.ts";
import type { InverterRatings } from "./ratings.ts";
import type { ControlSettings } from "./settings.ts";
import type { SocEstimate } from "./state-of-charge.ts";

/**
 * A battery that is known by its voltage alone lends this much while it is held at its set-point:
 * without a try nothing would ever start on what it refuses. [1] Ours, no source
 */
const LENT_AT_SETPOINT_FRACTION = 0.02;
/**
 * So much of the band an outlook does not lend to loads that the sun, for now, does not carry: it
 * may be wrong about the rest of the day. Found on the development weather; ours, no source. [1]
 */
const NOT_LENT_FRACTION = 0.1;
/** Without a clock, arrays that give more than this share of their peak say that it is day. */
const DAY_BY_ARRAY_FRACTION = 0.02;

export type PowerFigures = Pick<
  SiteVerdict,
  | "batteryPowerW"
  | "sourcesPowerW"
  | "basePowerW"
  | "claimW"
  | "availableW"
  | "lendableWh"
  | "inverterHeadroomW"
  | "isCurtailed"
>;

export interface PowerInput {
  readonly settings: ControlSettings;
  readonly estimate: SocEstimate;
  readonly ratings: InverterRatings;
  readonly bandFraction: number | null;
  readonly isDaylight: boolean | null;
  /** null: the fixed rule curve is in use. */
  readonly outlook: OutlookView | null;
  /** Enough of the day is left to give back what is lent; null while the clock is in doubt. */
  readonly mayLend: boolean | null;
  /** What running opportunity loads draw. [W] AC */
  readonly opportunityW: number;
  /** Days since the last full charge are past the battery's rule. */
  readonly isFullChargeDue: boolean;
}

export function powerFigures(observation: Observation, input: PowerInput): PowerFigures {
  const { settings, estimate } = input;
  const { inverter, battery } = settings;
  const batteryPowerW = batteryPower(observation);
  let sourcesPowerW = 0;
  let dumpedW = 0;
  for (const { powerW, dumpPowerW } of observation.sources) {
    sourcesPowerW += freshOrNull(powerW) ?? 0;
    dumpedW += freshOrNull(dumpPowerW) ?? 0;
  }
  const acW = freshOrNull(observation.inverter.powerW);
  const opportunityDcW = input.opportunityW / inverter.efficiencyFraction;
  const claimW = claim(batteryPowerW, observation, input);
  const isDay = input.isDaylight ?? arraysSayDay(observation, settings);
  const isRefused =
    estimate.charge.isAtSetpoint ||
    isChargeBlocked(observation) ||
    isAtChargeLimit(observation, battery);
  const isCurtailed = isRefused && isDay;
  const lentFraction = lentFractionOf(input, isCurtailed);
  const mayLend = input.outlook === null ? (input.mayLend ?? isDay) : isDay;
  const lends = mayLend && lentFraction > 0 && !input.isFullChargeDue;
  return {
    batteryPowerW,
    sourcesPowerW,
    basePowerW: basePower({ acW, batteryPowerW, sourcesPowerW, opportunityDcW }, settings),
    claimW,
    availableW: batteryPowerW === null ? null : batteryPowerW - claimW + dumpedW,
    lendableWh: lends ? lentFraction * battery.capacityAh * battery.nominalVoltageV : 0,
    inverterHeadroomW: acW === null ? null : input.ratings.continuousW - acW,
    isCurtailed,
  };
}

/** What of the battery a load may be given for a while. [1] ≤ 0: nothing */
function lentFractionOf({ outlook, bandFraction }: PowerInput, isCurtailed: boolean): number {
  if (bandFraction === null) return isCurtailed ? LENT_AT_SETPOINT_FRACTION : 0;
  return outlook === null || isCurtailed ? bandFraction : bandFraction - NOT_LENT_FRACTION;
}

/** Opportunity loads' AC power: metered where there is a meter, else rated. [W] */
export function opportunityPowerW(loads: readonly LoadMemory[], observation: Observation): number {
  let totalW = 0;
  for (let index = 0; index < loads.length; index += 1) {
    totalW += drawnW(itemAt(loads, index), itemAt(observation.loads, index).powerW);
  }
  return totalW;
}

/** What one load draws now. [W] AC, ≥ 0 */
export function drawnW(load: LoadMemory, meter: Reading): number {
  return load.draw.thermostat.drawing === "rests" && meter.quality !== "fresh"
    ? 0
    : mostDrawnW(load, meter);
}

/**
 * …and at most: one that seems to rest may draw all the same. With less energy than there was, a
 * sound tank would look dry. [W] AC, ≥ 0
 */
export function mostDrawnW(load: LoadMemory, meter: Reading): number {
  if (load.stage === 0) return 0;
  return meter.quality === "fresh" ? Math.max(0, meter.value) : load.powerW;
}

/** [W], positive charging; null unless voltage and current are both fresh. */
function batteryPower(observation: Observation): number | null {
  const { voltageV, currentA } = observation.battery;
  if (voltageV.quality !== "fresh" || currentA.quality !== "fresh") return null;
  return voltageV.value * currentA.value;
}

/**
 * The part of the power that the battery is to get before any opportunity load: under the rule
 * curve, or while a full charge is overdue, everything that it takes; in the absorption of
 * lead-acid what it accepts; otherwise nothing. A battery that refuses charge claims nothing.
 */
function claim(batteryPowerW: number | null, observation: Observation, input: PowerInput): number {
  if (isChargeBlocked(observation)) return 0;
  const isUnderCurve = input.bandFraction !== null && input.bandFraction < 0;
  const takenW = isUnderCurve || input.isFullChargeDue ? Math.max(0, batteryPowerW ?? 0) : 0;
  // An outlook's curve counts what the battery still accepts: above it, absorption can wait.
  const canWait = input.outlook !== null && !input.outlook.isCompleting && !isUnderCurve;
  return canWait ? takenW : Math.max(takenW, input.estimate.memory.acceptedW ?? 0);
}

function basePower(
  power: {
    readonly acW: number | null;
    readonly batteryPowerW: number | null;
    readonly sourcesPowerW: number;
    readonly opportunityDcW: number;
  },
  settings: ControlSettings,
): number | null {
  const { inverter } = settings;
  if (power.acW !== null) {
    const inputW = power.acW / inverter.efficiencyFraction + inverter.idleW;
    return inputW - power.opportunityDcW;
  }
  if (power.batteryPowerW === null) return null;
  return power.sourcesPowerW - power.batteryPowerW - power.opportunityDcW;
}

function arraysSayDay(observation: Observation, settings: ControlSettings): boolean {
  return settings.sources.some((source, index) => {
    const power = observation.sources[index]?.powerW;
    return (
      source.kind === "array" &&
      power?.quality === "fresh" &&
      power.value > DAY_BY_ARRAY_FRACTION * source.peakW
    );
  });
}

function freshOrNull(reading: Reading): number | null {
  return reading.quality === "fresh" ? reading.value : null;
}
