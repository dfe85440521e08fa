/** What the loads still want today, as far as it is known. */
import { demandGap } from "../demand.ts";
import { WATER_WH_PER_L_K } from "../element.ts";
import { itemAt } from "../item-at.ts";
import type { LoadMemory } from "../memory.ts";
import type { LoadObservation, Observation } from "../observation.ts";
import type { ControlSettings, LoadSettings } from "../settings.ts";
import { largestPowerW } from "../stage-power.ts";

const MS_PER_HOUR = 3_600_000;

export interface LoadWant {
  /** At the battery bus. [W] > 0 */
  readonly powerW: number;
  /** At the battery bus; Infinity: as much as there is. [Wh] ≥ 0 */
  readonly energyWh: number;
}

export function wantsOf(
  loads: readonly LoadMemory[],
  observation: Observation,
  settings: ControlSettings,
): LoadWant[] {
  const { efficiencyFraction } = settings.inverter;
  return loads.map((load, index) => {
    const loadSettings = itemAt(settings.loads, index);
    const seen = itemAt(observation.loads, index);
    const isWanting = demandGap(load, { site: observation, load: seen }, loadSettings) === null;
    const energyWh = isWanting ? leftWh(load, seen, loadSettings) : 0;
    return {
      powerW: largestPowerW(loadSettings) / efficiencyFraction,
      energyWh: energyWh / efficiencyFraction,
    };
  });
}

/** Until the nearest of its ends. [Wh] AC, ≥ 0 */
function leftWh(load: LoadMemory, seen: LoadObservation, settings: LoadSettings): number {
  const { quotaRunMs, quotaEnergyWh, tank } = settings;
  let wh = Infinity;
  if (quotaRunMs !== null) {
    wh = ((quotaRunMs - load.ranTodayMs) / MS_PER_HOUR) * largestPowerW(settings);
  }
  if (quotaEnergyWh !== null) wh = Math.min(wh, quotaEnergyWh - load.usedTodayWh);
  if (tank !== null && tank.volumeL !== null) {
    const missingK = Math.max(0, tank.surplusC - seen.tankTemperatureC.value);
    wh = Math.min(wh, missingK * tank.volumeL * WATER_WH_PER_L_K);
  }
  return wh;
}
