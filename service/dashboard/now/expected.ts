/** When a waiting load's step may be reached, at the rate of this moment. */
import type { SiteView } from "../../site-view.ts";
import type { StateView, VerdictView } from "../../state-view.ts";

/** A slower climb says nothing about when. [W] */
const CHARGING_MIN_W = 50;
/** Further ahead the rate of this moment says nothing. [s] */
const AHEAD_MAX_S = 12 * 3600;

/** @returns null where that can't be said. [s] */
export function climbS(site: SiteView, state: StateView, load: VerdictView): number | null {
  const { verdict } = state;
  if (verdict === null || load.code !== "waiting-band") return null;
  const { socFraction, batteryPowerW } = verdict;
  const startFraction = load.figures["limitFraction"];
  if (socFraction === null || batteryPowerW === null || startFraction === undefined) return null;
  if (batteryPowerW < CHARGING_MIN_W || startFraction <= socFraction) return null;
  const missingWh = (startFraction - socFraction) * site.battery.capacityWh;
  const seconds = (missingWh / batteryPowerW) * 3600;
  return seconds > AHEAD_MAX_S ? null : seconds;
}
