import { heatingHysteresis } from "./blocks/hysteresis.ts";
import type { LoadMemory } from "./memory.ts";
import type { LoadObservation, Observation } from "./observation.ts";
import type { DayWindow, LoadSettings } from "./settings.ts";
import { isRequestMissing } from "./sockets.ts";
import { stagePowerW } from "./stage-power.ts";
import type { VerdictCode } from "./verdict-codes.ts";

/** Why a load wants no energy now, with the two numbers of its verdict. */
export interface NoDemand {
  readonly code: VerdictCode;
  readonly measured: number | null;
  readonly limit: number | null;
}

const MS_PER_MINUTE = 60_000;
const MS_PER_HOUR = 3_600_000;

/** Whether the tank asks for heat, with hysteresis; a load without a tank always does. */
export function wantsHeat(
  load: LoadMemory,
  observation: LoadObservation,
  settings: LoadSettings,
): boolean {
  const { tank } = settings;
  if (tank === null) return true;
  const temperature = observation.tankTemperatureC;
  if (temperature.quality !== "fresh") return false;
  return heatingHysteresis(load.wantsHeat, {
    value: temperature.value,
    onAt: tank.surplusC - tank.hysteresisK,
    offAt: tank.surplusC,
  });
}

/**
 * Why the load wants nothing; null if it wants energy. `load` already carries this tick's
 * `wantsHeat` and the day's totals.
 */
export function demandGap(
  load: LoadMemory,
  observation: { readonly site: Observation; readonly load: LoadObservation },
  settings: LoadSettings,
): NoDemand | null {
  if (!isInWindows(settings.windows, observation.site)) {
    return { code: "outside-window", measured: null, limit: null };
  }
  const { quotaRunMs, quotaEnergyWh, tank, pump } = settings;
  // A run that is begun lasts its minimum: what is left of the quota has to hold it.
  const runMs = load.stage > 0 ? 0 : settings.minRunMs;
  if (quotaRunMs !== null && isMet(load.ranTodayMs + runMs, quotaRunMs, load.ranTodayMs)) {
    return {
      code: "quota-run-met",
      measured: load.ranTodayMs / MS_PER_MINUTE,
      limit: quotaRunMs / MS_PER_MINUTE,
    };
  }
  const runWh = (runMs / MS_PER_HOUR) * stagePowerW(settings, settings.stagesW.length);
  if (quotaEnergyWh !== null && isMet(load.usedTodayWh + runWh, quotaEnergyWh, load.usedTodayWh)) {
    return { code: "quota-energy-met", measured: load.usedTodayWh, limit: quotaEnergyWh };
  }
  if (tank !== null && !load.wantsHeat) {
    return {
      code: "tank-warm",
      measured: observation.load.tankTemperatureC.value,
      limit: tank.surplusC,
    };
  }
  if (pump !== null && pump.level !== null && !load.guard.wantsFilling) {
    return {
      code: "cistern-full",
      measured: observation.load.levelFraction.value,
      limit: pump.level.fullFraction,
    };
  }
  if (isRequestMissing(load, settings, observation.site.monotonicMs)) {
    return { code: "waiting-request", measured: null, limit: null };
  }
  return null;
}

/** @param withRun - Had today if another run began now, for the least time that it may last. */
function isMet(withRun: number, quota: number, had: number): boolean {
  return had >= quota || (had > 0 && withRun > quota);
}

/** No windows: any hour. Windows with a clock in doubt: no hour. */
function isInWindows(windows: readonly DayWindow[], observation: Observation): boolean {
  if (windows.length === 0) return true;
  if (!observation.isWallClockPlausible) return false;
  return windows.some((window) => isInWindow(window, observation.localMinute));
}

function isInWindow(window: DayWindow, minute: number): boolean {
  const { fromMinute, toMinute } = window;
  if (fromMinute <= toMinute) return minute >= fromMinute && minute < toMinute;
  return minute >= fromMinute || minute < toMinute;
}
