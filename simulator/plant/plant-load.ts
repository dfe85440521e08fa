import type { LoadPlantSettings } from "./plant-settings.ts";
import type { PlantTruth } from "./plant-truth.ts";
import { advanceStore, createStore } from "./switched-store.ts";
import type { Store } from "./switched-store.ts";
import { advanceTank, createTank } from "./tank-heater.ts";
import type { Tank } from "./tank-heater.ts";
import { PROFILE_M, wantedByMinuteWh } from "./tapping-profile.ts";

export interface PlantLoad {
  readonly settings: LoadPlantSettings;
  readonly tank: Tank | null;
  readonly store: Store | null;
  /** Hot water asked of the tap in each minute of the day. [Wh] */
  readonly wantedByMinuteWh: Float64Array;
}

const MINUTE_S = 60;

export function createLoad(settings: LoadPlantSettings): PlantLoad {
  const scale = settings.tank?.drawScale ?? 0;
  return {
    settings,
    tank: settings.tank === null ? null : createTank(settings.tank),
    store: settings.store === null ? null : createStore(settings.store),
    wantedByMinuteWh: wantedByMinuteWh(PROFILE_M).map((energyWh) => energyWh * scale),
  };
}

/** AC power at this stage, unless the load's own thermostat or switch is open. [W] */
export function loadPowerW(load: PlantLoad | undefined, stage: number): number {
  if (load === undefined || stage <= 0) return 0;
  const isClosed = load.tank?.isThermostatClosed !== false && load.store?.isSwitchClosed !== false;
  return isClosed ? (load.settings.stagesW[stage - 1] ?? 0) : 0;
}

/** Carries tank or store over the step, with the power that the bus could really give. */
export function advanceLoads(
  parts: { readonly loads: readonly PlantLoad[]; readonly truth: PlantTruth },
  localMinute: number,
  dtS: number,
): void {
  const stepH = dtS / 3600;
  const minuteOfDay = Math.floor(localMinute);
  for (let i = 0; i < parts.loads.length; i += 1) {
    const load = parts.loads[i];
    if (load === undefined) continue;
    const powerW = parts.truth.loadPowerW[i] ?? 0;
    parts.truth.loadUsefulW[i] = powerW;
    if (load.store !== null) advanceStore(load.store, powerW > 0, dtS);
    if (load.tank === null) continue;
    const wantedWh = ((load.wantedByMinuteWh[minuteOfDay] ?? 0) * dtS) / MINUTE_S;
    advanceTank(load.tank, { powerW, wantedWh }, dtS);
    parts.truth.tankTemperatureC[i] = load.tank.temperatureC;
    parts.truth.loadUsefulW[i] = stepH === 0 ? 0 : load.tank.usefulWh / stepH;
  }
}
