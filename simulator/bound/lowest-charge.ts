import type { BatterySettings } from "../../service/control/settings.ts";
import type { BatteryCurve } from "./battery-curve.ts";
import type { BoundStep } from "./bound-step.ts";

const HALVINGS = 40;

/**
 * The least charge at each step's end with which the reserve is still kept: the floor, or what the
 * shed without loads had where that is less, and at sunset the target, if that shed reached it;
 * before it, what has to be there for the rest of the day to bring it up.
 *
 * @returns [1] 0…1, one for each step.
 */
export function lowestCharge(
  steps: readonly BoundStep[],
  battery: BatterySettings,
  curve: BatteryCurve,
): Float64Array {
  const lowest = Float64Array.from(steps, ({ isSunset, referenceFraction }) => {
    const kept = Math.min(battery.floorFraction, referenceFraction);
    const target = battery.sunsetTargetFraction;
    return isSunset && referenceFraction >= target ? target : kept;
  });
  for (let t = steps.length - 1; t > 0; t -= 1) {
    const step = steps[t];
    if (step === undefined) continue;
    const needed = neededBefore(lowest[t] ?? 0, step, curve);
    lowest[t - 1] = Math.max(lowest[t - 1] ?? 0, needed);
  }
  return lowest;
}

/** The least charge from which a step without loads leads to this one. [1] 0…1 */
function neededBefore(fraction: number, step: BoundStep, curve: BatteryCurve): number {
  if (step.netW <= 0) return 0;
  const wantedWh = curve.energyWh(fraction) - curve.slackWh;
  let low = 0;
  let high = fraction;
  for (let i = 0; i < HALVINGS; i += 1) {
    const middle = (low + high) / 2;
    const gainedWh = step.isChargeBlocked ? 0 : curve.gainW(middle, step.netW) * step.hours;
    if (curve.energyWh(middle) + gainedWh >= wantedWh) high = middle;
    else low = middle;
  }
  return low;
}
