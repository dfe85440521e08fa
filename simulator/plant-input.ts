/** The plant's input for one step: the day's weather and household, and the contacts. */
import type { DayFeed } from "./feed.ts";
import type { PlantInput } from "./plant/plant.ts";
import type { PlantSettings } from "./plant/plant-settings.ts";

/** One object for a whole run: it is filled again at each step. */
export type WritableInput = { -readonly [K in keyof PlantInput]: PlantInput[K] };

export function emptyInput(settings: PlantSettings): WritableInput {
  return {
    arrayPotentialW: new Float64Array(settings.arrays.length),
    windPotentialW: new Float64Array(settings.wind.length),
    irradianceWm2: NaN,
    baseAcW: 0,
    batteryTemperatureC: 20,
    localMinute: 0,
    isGeneratorCalled: false,
    loadStages: [],
    loadPowersW: [],
    panelsClosed: [],
  };
}

/** Weather and household of one row; the contacts are the caller's. */
export function fillInput(feed: DayFeed, row: number, input: WritableInput): void {
  for (let i = 0; i < feed.arrayPotentialW.length; i += 1) {
    input.arrayPotentialW[i] = feed.arrayPotentialW[i]?.[row] ?? 0;
  }
  for (let i = 0; i < feed.windPotentialW.length; i += 1) {
    input.windPotentialW[i] = feed.windPotentialW[i]?.[row] ?? 0;
  }
  input.irradianceWm2 = feed.irradianceWm2?.[row] ?? NaN;
  input.baseAcW = feed.baseAcW[row] ?? 0;
  input.isGeneratorCalled = (feed.generatorW?.[row] ?? 0) > 0;
  input.batteryTemperatureC = feed.batteryTemperatureC[row] ?? 20;
}
