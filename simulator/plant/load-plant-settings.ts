/** What hangs on each load in the simulated shed, and what is assumed where nobody says. */
import type { LoadSettings, TankSettings } from "../../service/control/settings.ts";
import type { PumpPlantSettings } from "./cistern-pump.ts";
import { liftedLPerMin } from "./hydraulics.ts";
import type { ModulatingPlantSettings } from "./modulating-load.ts";
import type { SocketsPlantSettings } from "./sockets.ts";

export interface TankPlantSettings {
  readonly volumeL: number;
  readonly lossWPerK: number;
  readonly ambientC: number;
  readonly inletC: number;
  /** The element's own thermostat: opens here, closes `thermostatHysteresisK` below. */
  readonly thermostatC: number;
  readonly thermostatHysteresisK: number;
  /** Water below this is of no use at the tap; a backup then gives the rest. [°C] */
  readonly usefulC: number;
  /** Times the draws of profile M (5.845 kWh a day). [1] ≥ 0 */
  readonly drawScale: number;
  readonly startC: number;
}

/** What a compressor fills: a flock of chilled churns, an air tank. Counted in run time. */
export interface StoreSettings {
  /** Run time from empty to full, where the load's own switch opens. [s] > 0 */
  readonly fullS: number;
  /** What is used up in a day. [s] ≥ 0 */
  readonly usedPerDayS: number;
  /** The switch closes again at this share of full. [1] 0…1 */
  readonly closesAtFraction: number;
}

export interface LoadPlantSettings {
  readonly id: string;
  readonly stagesW: readonly number[];
  readonly panelIndex: number | null;
  /** null: its power is that of its stage. */
  readonly modulating: ModulatingPlantSettings | null;
  readonly tank: TankPlantSettings | null;
  readonly store: StoreSettings | null;
  readonly pump: PumpPlantSettings | null;
  readonly sockets: SocketsPlantSettings | null;
}

const DEFAULT_VOLUME_L = 200;

/**
 * Assumed, common practice without a source unless said: a tank of energy class C; a cistern that
 * three hours of pumping fill and two hours' worth empties each day.
 */
export function loadPlantSettings(load: LoadSettings, index: number): LoadPlantSettings {
  const { id, stagesW, panelIndex, modulating, tank, pump, sockets } = load;
  const isPlain = tank === null && pump === null && sockets === null;
  return {
    id,
    stagesW,
    panelIndex,
    modulating,
    tank: tank === null ? null : tankSettings(tank),
    store: isPlain ? DEFAULT_STORE : null,
    pump: pump === null || tank !== null ? null : pumpSettings(stagesW.at(-1) ?? 0),
    sockets: sockets === null ? null : { largestW: sockets.maximumW, seed: 1000 + index },
  };
}

const DEFAULT_STORE: StoreSettings = { fullS: 10_800, usedPerDayS: 7200, closesAtFraction: 0.8 };

function tankSettings(tank: TankSettings): TankPlantSettings {
  const volumeL = tank.volumeL ?? DEFAULT_VOLUME_L;
  return {
    volumeL,
    lossWPerK: classCLossW(volumeL) / 45,
    ambientC: 15,
    inletC: 10,
    thermostatC: tank.limitC + 5,
    thermostatHysteresisK: 5,
    usefulC: 40,
    drawScale: 1,
    startC: 45,
  };
}

/** Upper end of energy class C, over 45 K (EU 812/2013, CHECKS WH-3): 86 W at 200 L. [W] */
function classCLossW(volumeL: number): number {
  return 16.66 + 8.33 * Math.exp(0.4 * Math.log(volumeL));
}

function pumpSettings(ratedW: number): PumpPlantSettings {
  const headM = 40;
  const efficiencyFraction = 0.4;
  const perMinuteL = liftedLPerMin(ratedW, { headM, efficiencyFraction });
  return {
    headM,
    efficiencyFraction,
    cisternL: 180 * perMinuteL,
    usedPerDayL: 120 * perMinuteL,
    closesAtFraction: 0.8,
    basinL: 240 * perMinuteL,
    springLPerMin: 0.2 * perMinuteL,
    dryFraction: 0.45,
  };
}
