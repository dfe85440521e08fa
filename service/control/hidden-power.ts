/**
 * What held-back arrays could add to what is measured, for a load that is to start. Only starts
 * count with it: whether a load goes on, the battery's power alone decides.
 */
import { isChargeBlocked } from "./battery-limits.ts";
import type { SiteVerdict } from "./decision.ts";
import type { ScheduleInput } from "./schedule-turn.ts";

type Judged = Pick<ScheduleInput, "site" | "observation">;

/**
 * As good as certain, at the battery bus. None where the battery refuses all charge: then nothing
 * takes up an error. None while a full charge is overdue either: too much by a little would keep
 * the battery from its set-point. [W] ≥ 0
 */
export function hiddenForStartW({ site, observation }: Judged): number {
  const isOnOffer = site.isCurtailed && !site.isFullChargeDue && !isChargeBlocked(observation);
  return isOnOffer ? site.hiddenLowW : 0;
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
