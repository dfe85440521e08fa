import type { RuleCurveSettings } from "./settings.ts";

/**
 * R(t): the state of charge that the battery must have now.
 *
 * The term and the idea are those of reservoir operation: water above the rule curve may be
 * released. The fixed curve is one number at every hour, a plain threshold.
 *
 * @returns [1] 0…1
 */
export function ruleCurveFraction(ruleCurve: RuleCurveSettings): number {
  return ruleCurve.atFraction;
}
