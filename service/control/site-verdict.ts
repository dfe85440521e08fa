import { imbalanceOf, unbalancedSince } from "./balance.ts";
import type { SiteVerdict } from "./decision.ts";
import { isSunUp, mayLendNow } from "./daylight.ts";
import type { Memory, SunMemory } from "./memory.ts";
import type { Observation } from "./observation.ts";
import { judgePotential } from "./potential.ts";
import type { InverterRatings } from "./ratings.ts";
import { ruleCurveNow } from "./rule-curve.ts";
import type { RuleCurveNow } from "./rule-curve.ts";
import type { ControlSettings } from "./settings.ts";
import { siteFindings } from "./site-findings.ts";
import type { SocEstimate } from "./state-of-charge.ts";
import { opportunityPowerW, powerFigures } from "./surplus.ts";

export interface SiteJudgement {
  readonly verdict: SiteVerdict;
  /** To be remembered. */
  readonly unbalancedSinceMs: number | null;
  readonly potential: Memory["potential"];
}

/** The site's own figures at this tick: battery against rule curve, power on offer, findings. */
export function judgeSite(
  memory: Memory,
  observation: Observation,
  input: {
    readonly settings: ControlSettings;
    readonly estimate: SocEstimate;
    readonly sun: SunMemory | null;
    readonly ratings: InverterRatings;
    readonly dtMs: number;
  },
): SiteJudgement {
  const { settings, estimate, sun, ratings, dtMs } = input;
  const isDaylight = isSunUp(sun, observation.wallMs);
  const curve = ruleCurveNow(settings.ruleCurve, memory.outlook.plan, observation);
  const socFraction = markedFraction(estimate, curve);
  const bandFraction = socFraction === null ? null : socFraction - curve.fraction;
  const potential = judgePotential(memory.potential, observation, {
    settings,
    charge: estimate.charge,
    generatorAtMs: memory.generatorAtMs,
    dtMs,
  });
  const isDue = isFullChargeDue(memory, observation, settings);
  const power = powerFigures(observation, {
    settings,
    estimate,
    ratings,
    bandFraction,
    isDaylight,
    outlook: curve.outlook,
    mayLend: mayLendNow(sun, observation.wallMs),
    opportunityW: opportunityPowerW(memory.loads, observation),
    isFullChargeDue: isDue,
  });
  const { balance } = settings;
  const imbalance = balance === null ? null : imbalanceOf(observation, settings, balance);
  const nowMs = observation.monotonicMs;
  const unbalancedSinceMs = unbalancedSince(memory.unbalancedSinceMs, imbalance, nowMs);
  const judged = { settings, estimate, ratings, imbalance, unbalancedSinceMs };
  const verdict: SiteVerdict = {
    socSource: estimate.source,
    socFraction,
    chargeStage: estimate.charge.stage,
    ruleCurveFraction: curve.fraction,
    outlook: curve.outlook,
    bandFraction,
    batteryPowerW: power.batteryPowerW,
    sourcesPowerW: power.sourcesPowerW,
    basePowerW: power.basePowerW,
    claimW: power.claimW,
    availableW: power.availableW,
    potentialLowW: potential.figures.potentialLowW,
    potentialW: potential.figures.potentialW,
    potentialHighW: potential.figures.potentialHighW,
    hiddenLowW: potential.figures.hiddenLowW,
    hiddenStartW: potential.figures.hiddenStartW,
    lendableWh: power.lendableWh,
    inverterHeadroomW: power.inverterHeadroomW,
    isCurtailed: power.isCurtailed,
    isDaylight,
    restVoltageV: estimate.restVoltageV,
    isFullChargeDue: isDue,
    findings: siteFindings(observation, judged),
  };
  return { verdict, unbalancedSinceMs, potential: potential.memory };
}

/** A fixed mark is set by what the monitor shows: everything, once a charge is completed. */
function markedFraction(estimate: SocEstimate, curve: RuleCurveNow): number | null {
  const isByMonitor = curve.outlook === null && estimate.charge.isFull;
  return isByMonitor ? estimate.saidFraction : estimate.fraction;
}

function isFullChargeDue(
  memory: Memory,
  observation: Observation,
  settings: ControlSettings,
): boolean {
  const { fullChargeEveryDays } = settings.battery;
  const { fullOnDay } = memory.battery;
  if (fullChargeEveryDays === null || fullOnDay === null) return false;
  if (!observation.isWallClockPlausible) return false;
  return observation.localDay - fullOnDay > fullChargeEveryDays;
}
