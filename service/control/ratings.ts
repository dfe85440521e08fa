import type { Observation } from "./observation.ts";
import type { ControlSettings } from "./settings.ts";

export interface InverterRatings {
  /** [W] */
  readonly continuousW: number;
  /** [VA] */
  readonly continuousVA: number;
  /** [VA] */
  readonly surgeVA: number;
  /** What is left of a leg's rating. [1] 0…1 */
  readonly share: number;
}

/**
 * What the inverter carries at its present temperature. A rating is stated for one temperature and
 * falls with each kelvin above it; without a fresh temperature the stated rating stands, and the
 * missing signal holds the loads off elsewhere.
 *
 * @source linear derating as data sheets give it; common practice, no source
 */
export function inverterRatings(
  observation: Observation,
  { inverter }: ControlSettings,
): InverterRatings {
  const { derating, continuousW, continuousVA, surgeVA } = inverter;
  const { quality, value } = observation.inverter.temperatureC;
  if (derating === null || quality !== "fresh" || value <= derating.aboveC) {
    return { continuousW, continuousVA, surgeVA, share: 1 };
  }
  const share = Math.max(0, 1 - derating.perKFraction * (value - derating.aboveC));
  return {
    continuousW: share * continuousW,
    continuousVA: share * continuousVA,
    surgeVA: share * surgeVA,
    share,
  };
}
