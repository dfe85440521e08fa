/**
 * A water tank with a resistance heater and a thermostat of its own, which Bywash never replaces.
 *
 * Fully mixed, so the tap is as warm as the sensor: a real tank keeps its top hotter, and serves a
 * little more than this one. Within a step heater, loss and draw are constant, for which the
 * temperature has a closed form.
 *
 * @check test/checks/tank-heater.test.ts
 */
import type { TankPlantSettings } from "./load-plant-settings.ts";

/** 1 L of water warmed by 1 K, constant properties. [Wh/(L·K)] CHECKS WH-1: 1.1628 */
export const WATER_WH_PER_LK = 1.1628;
const H_PER_S = 1 / 3600;

/** Changes in place. */
export interface Tank {
  readonly settings: TankPlantSettings;
  temperatureC: number;
  isThermostatClosed: boolean;
  /** Part of the heat above the inlet that opportunity power brought. [Wh] ≥ 0 */
  divertedHeatWh: number;
  /** Of the last step, all in Wh. */
  lossWh: number;
  drawnWh: number;
  /** Diverted heat that served a draw or kept useful water useful. */
  usefulWh: number;
}

export function createTank(settings: TankPlantSettings): Tank {
  return {
    settings,
    temperatureC: settings.startC,
    isThermostatClosed: settings.startC < settings.thermostatC,
    divertedHeatWh: 0,
    lossWh: 0,
    drawnWh: 0,
    usefulWh: 0,
  };
}

/** Carries the tank over a step with `powerW` in the element and `wantedWh` asked of the tap. */
export function advanceTank(
  tank: Tank,
  asked: { readonly powerW: number; readonly wantedWh: number },
  dtS: number,
): void {
  if (dtS === 0) return;
  const { settings } = tank;
  const { powerW, wantedWh } = asked;
  const stepH = dtS * H_PER_S;
  const startC = tank.temperatureC;
  const heatWhPerK = settings.volumeL * WATER_WH_PER_LK;
  const drawWPerK = drawConductance(tank, wantedWh, stepH);
  // Rise over the step if the losses stayed as they are at its start, then how far they bend it.
  const straightK =
    ((powerW +
      settings.lossWPerK * (settings.ambientC - startC) +
      drawWPerK * (settings.inletC - startC)) *
      stepH) /
    heatWhPerK;
  const decay = ((settings.lossWPerK + drawWPerK) * stepH) / heatWhPerK;
  const endC = startC + straightK * endFactor(decay);
  const meanC = startC + straightK * meanFactor(decay);
  tank.temperatureC = endC;
  tank.lossWh = settings.lossWPerK * (meanC - settings.ambientC) * stepH;
  tank.drawnWh = drawWPerK * (meanC - settings.inletC) * stepH;
  bookUse(tank, { startC, powerWh: powerW * stepH, heatWhPerK });
  if (endC >= settings.thermostatC) tank.isThermostatClosed = false;
  else if (endC <= settings.thermostatC - settings.thermostatHysteresisK) {
    tank.isThermostatClosed = true;
  }
}

/** Under this the exact expression loses digits and three terms of its series are exact. */
const SERIES_BELOW = 1e-3;

/** (1 − exp(−x)) / x */
function endFactor(x: number): number {
  if (x < SERIES_BELOW) return 1 - x / 2 + (x * x) / 6 - (x * x * x) / 24;
  return (1 - Math.exp(-x)) / x;
}

/** (1 − endFactor(x)) / x: the mean over the step of what `endFactor` gives for its end. */
function meanFactor(x: number): number {
  if (x < SERIES_BELOW) return 1 / 2 - x / 6 + (x * x) / 24 - (x * x * x) / 120;
  return (1 - endFactor(x)) / x;
}

/**
 * Flow times heat capacity of what the tap takes. [W/K]
 *
 * Hot water is mixed with cold at the tap, so a hotter tank gives less of itself; water that is
 * not warm enough is taken as preheat and a backup gives the rest.
 */
function drawConductance(tank: Tank, wantedWh: number, stepH: number): number {
  if (wantedWh <= 0) return 0;
  const { settings } = tank;
  const riseK = Math.max(tank.temperatureC, settings.usefulC) - settings.inletC;
  return wantedWh / (riseK * stepH);
}

/** Diverted heat leaves the mixed tank in the same proportion as all the heat does. */
function bookUse(
  tank: Tank,
  step: { readonly startC: number; readonly powerWh: number; readonly heatWhPerK: number },
): void {
  const { settings } = tank;
  const heldWh = Math.max(0, (step.startC - settings.inletC) * step.heatWhPerK) + step.powerWh;
  tank.divertedHeatWh += step.powerWh;
  const lossWh = Math.max(0, tank.lossWh);
  const drawnWh = Math.max(0, tank.drawnWh);
  const share = heldWh > 0 ? Math.min(1, tank.divertedHeatWh / heldWh) : 0;
  const isUseful = step.startC >= settings.usefulC;
  tank.usefulWh = share * (drawnWh + (isUseful ? lossWh : 0));
  tank.divertedHeatWh = Math.max(0, tank.divertedHeatWh - share * (drawnWh + lossWh));
}
