/**
 * What each load fills, in columns and rows: the use of its energy is bounded by what its tank,
 * cistern or store can hold and gives away again.
 */
import type {
  LoadPlantSettings,
  StoreSettings,
  TankPlantSettings,
} from "../plant/load-plant-settings.ts";
import type { PumpPlantSettings } from "../plant/cistern-pump.ts";
import { liftedLPerMin } from "../plant/hydraulics.ts";
import { WATER_WH_PER_LK } from "../plant/tank-heater.ts";
import type { LoadStep } from "./bound-step.ts";
import type { Entry, ProgrammeBuilder } from "./programme.ts";

export interface LoadColumns {
  /**
   * A step's part of the programme.
   *
   * @param power - The load's power in this step; null where it may not run. [W]
   */
  add(step: LoadStep, hours: number, power: number | null): void;
  /** Column of the useful energy of the last step, and what one unit of it is. [Wh] */
  readonly useful: () => Entry | null;
}

export interface FillOptions {
  readonly load: LoadPlantSettings;
  /** Heating on surplus stops here; null: no tank. [°C] */
  readonly surplusC: number | null;
  readonly ratedW: number;
  /** A controller looks once in this time, and may run over by it. [s] */
  readonly stepS: number;
}

const S_PER_H = 3600;
const MIN_PER_H = 60;
const H_PER_DAY = 24;

/** @param worth - Of a Wh of use. */
export function loadColumns(programme: ProgrammeBuilder, options: FillOptions): LoadColumns {
  const { load } = options;
  if (load.tank !== null) return tankColumns(programme, load.tank, options);
  if (load.pump !== null) return pumpColumns(programme, load.pump, options);
  if (load.store !== null) return storeColumns(programme, load.store, options);
  return plainColumns();
}

/** All of its power is of use. */
function plainColumns(): LoadColumns {
  let useful: Entry | null = null;
  return {
    add(_step, hours, power) {
      useful = power === null ? null : [power, hours];
    },
    useful: () => useful,
  };
}

/**
 * Diverted heat in the tank: D. Of a draw it gives no more than is wanted, and in no larger part
 * than a tank at its lowest useful temperature would; of the standing loss its own part.
 */
function tankColumns(
  programme: ProgrammeBuilder,
  tank: TankPlantSettings,
  { surplusC, ratedW, stepS }: FillOptions,
): LoadColumns {
  const whPerK = tank.volumeL * WATER_WH_PER_LK;
  const overshootK = (ratedW * stepS) / S_PER_H / whPerK;
  const hottestC = Math.min(surplusC ?? Infinity, tank.thermostatC) + overshootK;
  const fullWh = whPerK * (hottestC - tank.inletC);
  const lossPerH = (tank.lossWPerK * (hottestC - tank.ambientC)) / fullWh;
  const usefulHeatWh = whPerK * (tank.usefulC - tank.inletC);
  let held = programme.column({ lower: 0, upper: 0 });
  let useful: Entry | null = null;
  return {
    add({ wantedWh }, hours, power) {
      const before = held;
      held = programme.column({ lower: 0, upper: fullWh });
      const used = programme.column({ lower: 0, upper: Infinity, worth: 1 });
      useful = [used, 1];
      const heated: Entry[] = power === null ? [] : [[power, hours]];
      const minus = (share: number): Entry[] => [
        [before, -share],
        ...heated.map(([column, value]): Entry => [column, -share * value]),
      ];
      programme.atMost(0, [[held, 1], [used, 1], ...minus(1)]);
      programme.atMost(wantedWh, [[used, 1], ...minus(lossPerH * hours)]);
      if (wantedWh < usefulHeatWh * (1 - lossPerH * hours)) {
        programme.atMost(0, [[used, 1], ...minus(wantedWh / usefulHeatWh + lossPerH * hours)]);
      }
    },
    useful: () => useful,
  };
}

/** Water in the basin and in the cistern; a pump is of use as far as it lifts water. */
function pumpColumns(
  programme: ProgrammeBuilder,
  pump: PumpPlantSettings,
  { ratedW, stepS }: FillOptions,
): LoadColumns {
  const litresPerWh = liftedLPerMin(1, pump) * MIN_PER_H;
  const overshootL = (litresPerWh * ratedW * stepS) / S_PER_H;
  const usedPerH = pump.usedPerDayL / H_PER_DAY;
  const springPerH = pump.springLPerMin * MIN_PER_H;
  let cistern = programme.column({ lower: pump.cisternL / 2, upper: pump.cisternL / 2 });
  let basin = programme.column({ lower: pump.basinL, upper: pump.basinL });
  let useful: Entry | null = null;
  return {
    add(_step, hours, power) {
      const [cisternBefore, basinBefore] = [cistern, basin];
      cistern = programme.column({ lower: 0, upper: pump.cisternL + overshootL });
      basin = programme.column({ lower: 0, upper: pump.basinL });
      const lifted = litresPerWh * hours;
      const column =
        power === null ? null : programme.column({ lower: 0, upper: Infinity, worth: 1 });
      useful = column === null ? null : [column, 1];
      const water: Entry[] = column === null ? [] : [[column, litresPerWh]];
      const taken: Entry[] = water;
      programme.atMost(usedPerH * hours, [[cisternBefore, 1], [cistern, -1], ...water]);
      programme.atMost(springPerH * hours, [[basin, 1], [basinBefore, -1], ...taken]);
      if (column !== null && power !== null) {
        // Running dry takes power and lifts nothing.
        programme.atMost(0, [
          [column, 1],
          [power, -lifted / litresPerWh],
        ]);
      }
    },
    useful: () => useful,
  };
}

/** Seconds of running that are stored; the load's own switch opens when it is full. */
function storeColumns(
  programme: ProgrammeBuilder,
  store: StoreSettings,
  { ratedW, stepS }: FillOptions,
): LoadColumns {
  const usedPerH = store.usedPerDayS / H_PER_DAY;
  let level = programme.column({ lower: store.fullS / 2, upper: store.fullS / 2 });
  let useful: Entry | null = null;
  return {
    add(_step, hours, power) {
      const before = level;
      level = programme.column({ lower: 0, upper: store.fullS + stepS });
      useful = power === null ? null : [power, hours];
      const run: Entry[] = power === null ? [] : [[power, (S_PER_H * hours) / ratedW]];
      programme.atMost(usedPerH * hours, [[before, 1], [level, -1], ...run]);
    },
    useful: () => useful,
  };
}
