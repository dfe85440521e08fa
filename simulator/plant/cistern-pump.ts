/**
 * A pump that lifts water from a small basin under a spring into a cistern. Its level switch opens
 * when the cistern is full; where the basin is empty it runs dry: little power, no flow.
 *
 * @check test/checks/hydraulics.test.ts
 */
import { liftedLPerMin } from "./hydraulics.ts";

export interface PumpPlantSettings {
  readonly headM: number;
  /** Water power over electric power. [1] 0…1 */
  readonly efficiencyFraction: number;
  readonly cisternL: number;
  /** Used evenly over the day. [L] ≥ 0 */
  readonly usedPerDayL: number;
  /** The level switch closes again at this share of full. [1] 0…1 */
  readonly closesAtFraction: number;
  readonly basinL: number;
  readonly springLPerMin: number;
  /** Share of the rated power that it draws without water. [1] 0…1 */
  readonly dryFraction: number;
}

/** Changes in place. */
export interface CisternPump {
  readonly settings: PumpPlantSettings;
  cisternL: number;
  basinL: number;
  isSwitchClosed: boolean;
  /** Mean of the last step. [L/min] */
  flowLPerMin: number;
}

const MIN_PER_DAY = 1440;
/** The basin's contact opens below this share of it. [1] no source */
const LOW_FRACTION = 0.1;

export function createCisternPump(settings: PumpPlantSettings): CisternPump {
  return {
    settings,
    cisternL: settings.cisternL / 2,
    basinL: settings.basinL,
    isSwitchClosed: true,
    flowLPerMin: 0,
  };
}

export function levelFraction({ cisternL, settings }: CisternPump): number {
  return Math.max(0, Math.min(1, cisternL / settings.cisternL));
}

export function isSourceLow({ basinL, settings }: CisternPump): boolean {
  return basinL < LOW_FRACTION * settings.basinL;
}

/** What it draws at this rated power. [W] */
export function pumpPowerW(pump: CisternPump, ratedW: number): number {
  if (!pump.isSwitchClosed) return 0;
  return pump.basinL > 0 ? ratedW : ratedW * pump.settings.dryFraction;
}

/** Water is neither made nor lost: basin, cistern, spring, use and overflow of the basin. */
export function advanceCisternPump(pump: CisternPump, powerW: number, dtS: number): void {
  const { settings } = pump;
  const minutes = dtS / 60;
  if (minutes === 0) return;
  const wantedL = pump.basinL > 0 ? liftedLPerMin(powerW, settings) * minutes : 0;
  const springL = settings.springLPerMin * minutes;
  const movedL = Math.min(wantedL, pump.basinL + springL);
  const usedL = Math.min(pump.cisternL, (settings.usedPerDayL * minutes) / MIN_PER_DAY);
  pump.basinL = Math.min(settings.basinL, pump.basinL + springL - movedL);
  pump.cisternL += movedL - usedL;
  pump.flowLPerMin = movedL / minutes;
  if (pump.cisternL >= settings.cisternL) pump.isSwitchClosed = false;
  else if (pump.cisternL <= settings.cisternL * settings.closesAtFraction) {
    pump.isSwitchClosed = true;
  }
}
