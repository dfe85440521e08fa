import type { ChargeState } from "./charge-stage.ts";
import type { BatteryMemory } from "./memory.ts";
import type { Observation } from "./observation.ts";
import type { BatterySettings } from "./settings.ts";

/** What it accepted holds this long after the voltage left the set-point. [ms] Ours, no source */
const HELD_FOR_MS = 15 * 60_000;

export type Acceptance = Pick<BatteryMemory, "acceptedW" | "acceptedAtMs">;

const NOTHING: Acceptance = { acceptedW: null, acceptedAtMs: null };

/**
 * What a lead-acid battery takes in absorption while nothing is withheld from it. A load that takes
 * part of that starves it though no discharge shows, and the voltage that falls then looks like
 * bulk; so the last figure seen at the set-point is held for a while as the battery's claim.
 */
export function acceptanceOf(
  memory: Acceptance,
  observation: Observation,
  { charge, battery }: { readonly charge: ChargeState; readonly battery: BatterySettings },
): Acceptance {
  if (battery.chemistry === "lfp" || charge.isFull || charge.stage === "float") return NOTHING;
  const { voltageV, currentA } = observation.battery;
  const nowMs = observation.monotonicMs;
  if (charge.isAtSetpoint && currentA.quality === "fresh") {
    return { acceptedW: Math.max(0, voltageV.value * currentA.value), acceptedAtMs: nowMs };
  }
  const { acceptedAtMs } = memory;
  const isHeld = acceptedAtMs !== null && nowMs - acceptedAtMs <= HELD_FOR_MS;
  return isHeld ? { acceptedW: memory.acceptedW, acceptedAtMs } : NOTHING;
}
