/**
 * What held-back arrays could add to what is measured, for a load that is to start. Only starts
 * count with it: whether a load goes on, the battery's power alone decides.
 */
import { isChargeBlocked } from "./battery-limits.ts";
import type { SiteVerdict } from "./decision.ts";
import type { ScheduleInput } from "./schedule-turn.ts";
import type { LoadSettings } from "./settings.ts";

type Judged = Pick<ScheduleInput, "site" | "observation">;

/**
 * While a full charge is overdue a load that takes too much keeps the battery from its set-point:
 * only this share counts then. Found on the development weather; ours, no source. [1]
 */
const WHILE_CHARGE_IS_DUE = 0.7;

/** So short a minimum run pays off even where three starts in ten are wrong. By trial. [ms] */
const SHORT_RUN_MS = 15 * 60_000;

/**
 * What a start may count on, at the battery bus: it has to prove itself, and where that is soon
 * over, more often there than not is enough. None where the battery refuses all charge: then
 * nothing takes up an error. [W] ≥ 0
 */
export function hiddenForStartW(
  { site, observation }: Judged,
  { isTolerant, minRunMs }: Pick<LoadSettings, "isTolerant" | "minRunMs">,
): number {
  const isOnOffer = site.isCurtailed && !isChargeBlocked(observation);
  if (!isOnOffer) return 0;
  const isSoonOver = isTolerant || minRunMs <= SHORT_RUN_MS;
  const powerW = isSoonOver ? site.hiddenStartW : site.hiddenLowW;
  return site.isFullChargeDue ? WHILE_CHARGE_IS_DUE * powerW : powerW;
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
