import {
  advanceCisternPump,
  createCisternPump,
  isSourceLow,
  levelFraction,
  pumpPowerW,
} from "./cistern-pump.ts";
import type { CisternPump } from "./cistern-pump.ts";
import { modulatedW } from "./modulating-load.ts";
import type { LoadPlantSettings } from "./load-plant-settings.ts";
import type { PlantTruth } from "./plant-truth.ts";
import { advanceSockets, createSockets, socketsPowerW } from "./sockets.ts";
import type { Sockets } from "./sockets.ts";
import { advanceStore, createStore } from "./switched-store.ts";
import type { Store } from "./switched-store.ts";
import { advanceTank, createTank } from "./tank-heater.ts";
import type { Tank } from "./tank-heater.ts";
import { PROFILE_M, wantedByMinuteWh } from "./tapping-profile.ts";

/** At most one of tank, store, pump and sockets is there. */
export interface PlantLoad {
  readonly settings: LoadPlantSettings;
  readonly tank: Tank | null;
  readonly store: Store | null;
  readonly pump: CisternPump | null;
  readonly sockets: Sockets | null;
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
    pump: settings.pump === null ? null : createCisternPump(settings.pump),
    sockets: settings.sockets === null ? null : createSockets(settings.sockets),
    wantedByMinuteWh: wantedByMinuteWh(PROFILE_M).map((energyWh) => energyWh * scale),
  };
}

/**
 * AC power, unless the load's own thermostat or switch is open. [W]
 *
 * @param stage - Stage that is on; 0: off.
 * @param setW - Set power; counts for modulating loads alone. [W]
 */
export function loadPowerW(load: PlantLoad, stage: number, setW: number): number {
  if (stage <= 0) return 0;
  if (load.sockets !== null) return socketsPowerW(load.sockets, true);
  const { modulating, stagesW } = load.settings;
  const ratedW = modulating === null ? (stagesW[stage - 1] ?? 0) : modulatedW(setW, modulating);
  if (load.pump !== null) return pumpPowerW(load.pump, ratedW);
  const isClosed = load.tank?.isThermostatClosed !== false && load.store?.isSwitchClosed !== false;
  return isClosed ? ratedW : 0;
}

/** Carries what the loads fill over the step, with the power that the bus could really give. */
export function advanceLoads(
  parts: { readonly loads: readonly PlantLoad[]; readonly truth: PlantTruth },
  localMinute: number,
  dtS: number,
): void {
  const stepH = dtS / 3600;
  const minuteOfDay = Math.floor(localMinute);
  const { truth } = parts;
  for (let i = 0; i < parts.loads.length; i += 1) {
    const load = parts.loads[i];
    if (load === undefined) continue;
    const powerW = truth.loadPowerW[i] ?? 0;
    truth.loadUsefulW[i] = powerW;
    if (load.store !== null) advanceStore(load.store, powerW > 0, dtS);
    if (load.pump !== null) advancePump(load.pump, truth, { index: i, powerW, dtS });
    if (load.sockets !== null) {
      advanceSockets(load.sockets, (truth.loadStage[i] ?? 0) > 0, dtS);
      truth.loadIsPressed[i] = load.sockets.isPressed ? 1 : 0;
    }
    if (load.tank === null) continue;
    const wantedWh = ((load.wantedByMinuteWh[minuteOfDay] ?? 0) * dtS) / MINUTE_S;
    advanceTank(load.tank, { powerW, wantedWh }, dtS);
    truth.tankTemperatureC[i] = load.tank.temperatureC;
    truth.loadUsefulW[i] = stepH === 0 ? 0 : load.tank.usefulWh / stepH;
  }
}

/** A pump that lifts nothing is of no use, whatever it draws. */
function advancePump(
  pump: CisternPump,
  truth: PlantTruth,
  step: { readonly index: number; readonly powerW: number; readonly dtS: number },
): void {
  const { index, powerW, dtS } = step;
  advanceCisternPump(pump, powerW, dtS);
  truth.loadUsefulW[index] = pump.flowLPerMin > 0 ? powerW : 0;
  truth.loadFlowLPerMin[index] = powerW > 0 ? pump.flowLPerMin : 0;
  truth.loadLevelFraction[index] = levelFraction(pump);
  truth.loadSourceIsLow[index] = isSourceLow(pump) ? 1 : 0;
}
