import type { BatteryMemory } from "./memory.ts";

/** The monitor must have moved by this share of it, the same way. [1] */
const FOLLOWS_SHARE = 0.5;
/** A monitor near an end of its scale has no room to move on. [1] */
const END_MARGIN = 0.03;
/**
 * Near full a lead-acid battery turns part of the current into gas, and a good monitor knows it: it
 * moves less than the current says. [1] common practice, no source
 */
const GASSING_FROM = 0.85;

export type Following = Pick<
  BatteryMemory,
  "followedFraction" | "followedCharge" | "isNotFollowing"
>;

/**
 * Does the monitor's state of charge move with the current? One that stands still, or runs the
 * other way, while charge flows is stuck or wrong, however fresh its messages are.
 *
 * @param input.monitorFraction - null while it is not fresh: the judgement stands.
 * @param input.chargeFraction - Counted in this tick, as a share of the capacity; null: unknown.
 * @param input.isFull - Monitors set themselves to 100 % here, which no current explains.
 */
export function followMonitor(
  before: Following,
  input: {
    readonly monitorFraction: number | null;
    readonly chargeFraction: number | null;
    readonly isFull: boolean;
    readonly isLeadAcid: boolean;
    /** So much charge has to flow before the monitor is judged; null: it never is. [1] */
    readonly overFraction: number | null;
  },
): Following {
  const { monitorFraction, chargeFraction, overFraction } = input;
  if (overFraction === null) {
    return { followedFraction: null, followedCharge: 0, isNotFollowing: false };
  }
  if (monitorFraction === null || chargeFraction === null) {
    return { followedFraction: null, followedCharge: 0, isNotFollowing: before.isNotFollowing };
  }
  if (before.followedFraction === null || input.isFull) {
    return anew(monitorFraction, !input.isFull && before.isNotFollowing);
  }
  const charge = before.followedCharge + chargeFraction;
  if (Math.abs(charge) < overFraction) {
    return {
      followedFraction: before.followedFraction,
      followedCharge: charge,
      isNotFollowing: before.isNotFollowing,
    };
  }
  if (isAtEnd(monitorFraction, charge, input.isLeadAcid)) {
    return anew(monitorFraction, before.isNotFollowing);
  }
  const moved = monitorFraction - before.followedFraction;
  return anew(monitorFraction, moved / charge < FOLLOWS_SHARE);
}

function anew(monitorFraction: number, isNotFollowing: boolean): Following {
  return { followedFraction: monitorFraction, followedCharge: 0, isNotFollowing };
}

function isAtEnd(monitorFraction: number, charge: number, isLeadAcid: boolean): boolean {
  if (charge < 0) return monitorFraction < END_MARGIN;
  return monitorFraction > (isLeadAcid ? GASSING_FROM : 1 - END_MARGIN);
}
