import type { Battery } from "./battery.ts";
import type { BatteryPlantSettings } from "./battery-settings.ts";
import { createLeadAcid } from "./lead-acid-battery.ts";
import { createLfp } from "./lfp-battery.ts";

/** @param socFraction - State of charge to begin with. [1] 0…1 */
export function createBattery(settings: BatteryPlantSettings, socFraction: number): Battery {
  return settings.kind === "lfp"
    ? createLfp(settings, socFraction)
    : createLeadAcid(settings, socFraction);
}
