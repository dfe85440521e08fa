import type { OutlookView } from "./decision.ts";
import { numberAt } from "./item-at.ts";
import type { Observation } from "./observation.ts";
import type { OutlookPlan } from "./outlook/outlook-memory.ts";
import { curveAt } from "./outlook/plan.ts";
import type { RuleCurveSettings } from "./settings.ts";

export interface RuleCurveNow {
  /** R(t): the state of charge that the battery must have now. [1] 0…1 */
  readonly fraction: number;
  /** null: the fixed curve is in use. */
  readonly outlook: OutlookView | null;
}

/**
 * The term and the idea are those of reservoir operation: water above the rule curve may be
 * released. The fixed curve is one number at every hour, a plain threshold; the outlook's falls by
 * day as far as the sun that is still to come will make good.
 */
export function ruleCurveNow(
  ruleCurve: RuleCurveSettings,
  plan: OutlookPlan | null,
  observation: Observation,
): RuleCurveNow {
  const fixed = { fraction: ruleCurve.atFraction, outlook: null };
  if (ruleCurve.kind === "fixed" || plan === null || !observation.isWallClockPlausible) {
    return fixed;
  }
  const fraction = curveAt(plan, observation.wallMs);
  if (fraction === null) return fixed;
  const { expectedWh, cautiousWh, baseWh, path, untilMs, isCompleting, startsAtMs } = plan;
  return {
    fraction,
    outlook: {
      expectedWh,
      cautiousWh,
      baseWh,
      sunsetSocFraction: numberAt(path, path.length - 1),
      sunsetMs: untilMs,
      isCompleting,
      startsAtMs,
    },
  };
}
