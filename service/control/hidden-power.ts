/**
 * What held-back arrays could add to what is measured, for a load that is to start. Only starts
 * count with it: whether a load goes on, the battery's power alone decides.
 */
import { isChargeBlocked } from "./battery-limits.ts";
import type { SiteVerdict } from "./decision.ts";
import type { ScheduleInput } from "./schedule-turn.ts";

type Judged = Pick<ScheduleInput, "site" | "observation">;

/**
 * While a full charge is overdue a load that takes too much keeps the battery from its set-point:
 * only this share counts then. Found on the development weather; ours, no source. [1]
 */
const WHILE_CHARGE_IS_DUE = 0.9;

/**
 * As good as certain, at the battery bus. None where the battery refuses all charge: then nothing
 * takes up an error. [W] ≥ 0
 */
export function hiddenForStartW({ site, observation }: Judged): number {
  const isOnOffer = site.isCurtailed && !isChargeBlocked(observation);
  if (!isOnOffer) return 0;
  return site.isFullChargeDue ? WHILE_CHARGE_IS_DUE * site.hiddenLowW : site.hiddenLowW;
}

/** As a rule; null: nobody knows. [W] ≥ 0 */
export function hiddenLikelyW({ site }: { readonly site: SiteVerdict }): number | null {
  const { potentialLowW, potentialW, hiddenLowW } = site;
  if (potentialLowW === null || potentialW === null) return null;
  return potentialW - (potentialLowW - hiddenLowW);
}

/** At the very most; where nobody knows, only a try can tell. [W] ≥ 0 */
export function hiddenAtMostW({ site }: { readonly site: SiteVerdict }): number {
  const { potentialLowW, potentialHighW, hiddenLowW } = site;
  if (potentialLowW === null || potentialHighW === null) return Infinity;
  return potentialHighW - (potentialLowW - hiddenLowW);
}
