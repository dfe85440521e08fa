/**
 * State of charge, and how far it may be believed.
 *
 * The problem: a monitor can go silent, get stuck or have been set wrong; a count of our own drifts
 * with every offset of the current sensor; a voltage says little about a loaded lead-acid battery
 * and nothing about LFP in mid-range, whose curve is flat (about 1 mV per cell and percent).
 *
 * The idea: believe the monitor while it is fresh, and run a count beside it. While the two agree,
 * the count is drawn slowly towards the monitor, so that small drift never adds up, but a monitor
 * that sticks while current flows is still left behind. Past a limit the lower of the two is used.
 * If the monitor falls silent, a count that was checked within the hour carries on. Without any
 * monitor the count works from the last full charge, and before that a lead-acid site may fall back
 * on the open-circuit voltage, an LFP site only on "held at the set-point".
 */
import { acceptanceOf } from "./acceptance.ts";
import { chargeState } from "./charge-stage.ts";
import type { ChargeState } from "./charge-stage.ts";
import { followMonitor } from "./soc-following.ts";
import { lossFactorAfter, lostFractionAfter, storedFraction } from "./stored-charge.ts";
import type { SocSource } from "./decision.ts";
import type { BatteryMemory } from "./memory.ts";
import type { Observation } from "./observation.ts";
import type { BatterySettings } from "./settings.ts";

const MS_PER_HOUR = 3_600_000;
/** A silent monitor is replaced by the count for this long after it last agreed with it. */
const COUNT_AFTER_MONITOR_MS = MS_PER_HOUR;
/** Without any monitor, the count is believed for this long after a full charge. */
const COUNT_AFTER_FULL_MS = 7 * 24 * MS_PER_HOUR;
/** …and only if the current has been counted but for this long since then. Ours, no source. */
export const UNSEEN_MAX_MS = 30 * 60_000;
/** With no more than this missing a count still speaks against the monitor. Ours, no source. */
const UNCOUNTED_MAX_MS = 10 * 60_000;
/** Time constant with which the count follows a monitor that agrees with it. */
const COUNT_FOLLOWS_MS = 6 * MS_PER_HOUR;

export interface SocEstimate {
  readonly source: SocSource;
  /** [1] 0…1; null in voltage mode and without a source. */
  readonly fraction: number | null;
  /** The same by monitor or count alone, which call a completed charge all of it. [1] 0…1 */
  readonly saidFraction: number | null;
  /** V − I·R. [V]; null while the voltage is not known. */
  readonly restVoltageV: number | null;
  readonly charge: ChargeState;
  readonly memory: BatteryMemory;
}

export function estimateStateOfCharge(
  memory: BatteryMemory,
  observation: Observation,
  input: {
    readonly battery: BatterySettings;
    readonly dtMs: number;
    /** Time since the tick before that `dtMs` leaves out: nobody saw what happened in it. */
    readonly skippedMs: number;
  },
): SocEstimate {
  const { battery, dtMs, skippedMs } = input;
  const nowMs = observation.monotonicMs;
  const monitor = observation.battery.socFraction;
  const isMonitored = monitor.quality === "fresh";
  const seen = skippedMs > 0 ? { ...memory, tailSinceMs: null } : memory;
  const charge = chargeState(seen, observation, battery);
  const flowed = chargeFlowed(observation, input);
  const counted = countCharge(memory, observation, { battery, dtMs, skippedMs, charge, flowed });
  const { count, checkedAtMs, unseenMs, isDisagreeing } = counted;
  const trustMs = monitor.quality === "unmapped" ? COUNT_AFTER_FULL_MS : COUNT_AFTER_MONITOR_MS;
  const isChecked = checkedAtMs !== null && nowMs - checkedAtMs <= trustMs;
  const isCountTrusted =
    count !== null && flowed !== null && isChecked && unseenMs <= UNSEEN_MAX_MS;

  // A current that is missing now and then must not make the monitor's judgement begin anew.
  const isCounted = skippedMs === 0 && unseenMs <= UNCOUNTED_MAX_MS;
  const following = followMonitor(memory, {
    monitorFraction: isMonitored ? monitor.value : null,
    chargeFraction: isCounted ? (flowed ?? 0) : null,
    isFull: charge.isFull,
    isLeadAcid: battery.chemistry !== "lfp",
    overFraction: battery.socFollowsOverFraction,
  });
  const acceptance = acceptanceOf(memory, observation, { charge, battery });
  const isDisagreed = isMonitored && isDisagreeing;
  const restVoltageV = openCircuitVoltageV(observation, battery);
  const known = { count, isDisagreed, restVoltageV, isCountTrusted };
  const best = bestSource(observation, battery, known);
  const { isFull } = charge;
  const saidFraction = best.fraction;
  const isSeen = skippedMs === 0 && flowed !== null;
  const stored = storedFraction(memory, observation, { battery, dtMs, isFull, saidFraction });
  const nextMemory: BatteryMemory = {
    countFraction: count,
    checkedAtMs,
    unseenMs,
    storedFraction: stored,
    lossFactor: lossFactorAfter(memory, isFull),
    lostFraction: lostFractionAfter(memory, observation, { battery, dtMs, isFull, isSeen }),
    isDisagreeing: isDisagreed,
    followedFraction: following.followedFraction,
    followedCharge: following.followedCharge,
    isNotFollowing: following.isNotFollowing,
    acceptedW: acceptance.acceptedW,
    acceptedAtMs: acceptance.acceptedAtMs,
    stage: charge.stage ?? memory.stage,
    isFull: charge.isFull,
    tailSinceMs: charge.tailSinceMs,
    fullOnDay:
      charge.isFull && observation.isWallClockPlausible ? observation.localDay : memory.fullOnDay,
  };
  return {
    source: best.source,
    fraction: stored ?? saidFraction,
    saidFraction,
    restVoltageV,
    charge,
    memory: nextMemory,
  };
}

function bestSource(
  observation: Observation,
  battery: BatterySettings,
  known: {
    readonly count: number | null;
    readonly isDisagreed: boolean;
    readonly restVoltageV: number | null;
    readonly isCountTrusted: boolean;
  },
): Pick<SocEstimate, "source" | "fraction"> {
  const monitor = observation.battery.socFraction;
  const { count, isDisagreed } = known;
  if (monitor.quality === "fresh" && count !== null) {
    const fraction = isDisagreed ? Math.min(monitor.value, count) : monitor.value;
    return { source: "monitor", fraction };
  }
  if (known.isCountTrusted) return { source: "count", fraction: count };
  const mayUseVoltage =
    monitor.quality === "unmapped" &&
    known.restVoltageV !== null &&
    (battery.chemistry === "lfp" || battery.voltageMode !== null);
  return { source: mayUseVoltage ? "voltage" : "none", fraction: null };
}

interface Count {
  readonly count: number | null;
  readonly checkedAtMs: number | null;
  readonly unseenMs: number;
  readonly isDisagreeing: boolean;
}

/** Our own count after this tick, and what the monitor says to it. */
function countCharge(
  memory: BatteryMemory,
  observation: Observation,
  input: {
    readonly battery: BatterySettings;
    readonly dtMs: number;
    readonly skippedMs: number;
    readonly charge: ChargeState;
    readonly flowed: number | null;
  },
): Count {
  const { battery, dtMs, skippedMs, charge, flowed } = input;
  const nowMs = observation.monotonicMs;
  const monitor = observation.battery.socFraction;
  let count = memory.countFraction;
  if (count !== null && flowed !== null) count = Math.min(1, Math.max(0, count + flowed));
  let checkedAtMs = memory.checkedAtMs;
  let isDisagreeing = memory.isDisagreeing;
  const isCounting = flowed !== null;
  let unseenMs = memory.unseenMs + skippedMs + (isCounting ? 0 : dtMs);
  if (charge.isFull && !memory.isFull) {
    count = 1;
    checkedAtMs = nowMs;
    unseenMs = 0;
  }
  if (monitor.quality === "fresh") {
    // Without a current, for so long, there is no count to hold against the monitor.
    if (count === null || unseenMs > UNCOUNTED_MAX_MS) count = monitor.value;
    isDisagreeing = Math.abs(monitor.value - count) > battery.socDisagreementFraction;
    // A count that its monitor speaks against is not believed when that monitor falls silent.
    checkedAtMs = isDisagreeing ? null : nowMs;
    if (!isDisagreeing) {
      count += (monitor.value - count) * Math.min(1, dtMs / COUNT_FOLLOWS_MS);
      if (isCounting) unseenMs = 0;
    }
  }
  return { count, checkedAtMs, unseenMs, isDisagreeing };
}

/**
 * Charge of `dtMs` at the present current, as a share of the capacity; null where no current is
 * known.
 *
 * Discharge faster than the rated one takes more than its ampere-hours out of a lead-acid battery
 * (Peukert, rated-hour convention); slower discharge is not credited.
 *
 * @source CHECKS.md BA-1, rated-hour convention
 * @check test/checks/peukert.test.ts
 */
function chargeFlowed(
  observation: Observation,
  input: { readonly battery: BatterySettings; readonly dtMs: number },
): number | null {
  const current = observation.battery.currentA;
  if (current.quality !== "fresh") return null;
  const { battery, dtMs } = input;
  const effectiveA =
    current.value >= 0
      ? current.value * battery.coulombicEfficiencyFraction
      : -effectiveDischargeA(-current.value, battery);
  return (effectiveA * dtMs) / MS_PER_HOUR / battery.capacityAh;
}

/**
 * Current that would take the same share of the rated capacity at the rated rate.
 *
 * @param dischargeA - [A] ≥ 0
 * @returns [A] ≥ dischargeA
 */
export function effectiveDischargeA(dischargeA: number, battery: BatterySettings): number {
  const ratedA = battery.capacityAh / battery.ratedHours;
  if (dischargeA <= ratedA || battery.peukertExponent === 1) return dischargeA;
  return dischargeA * Math.exp((battery.peukertExponent - 1) * Math.log(dischargeA / ratedA));
}

function openCircuitVoltageV(observation: Observation, battery: BatterySettings): number | null {
  const { voltageV, currentA } = observation.battery;
  if (voltageV.quality !== "fresh") return null;
  if (currentA.quality !== "fresh") return voltageV.value;
  return voltageV.value - currentA.value * battery.resistanceOhm;
}
