import type { StoreSettings } from "./load-plant-settings.ts";

/** What a pump or compressor fills, in seconds of its own running. Changes in place. */
export interface Store {
  readonly settings: StoreSettings;
  levelS: number;
  isSwitchClosed: boolean;
}

const DAY_S = 86_400;

export function createStore(settings: StoreSettings): Store {
  return { settings, levelS: settings.fullS / 2, isSwitchClosed: true };
}

/** Fills while the load runs, is used up evenly all day; the load's own switch opens when full. */
export function advanceStore(store: Store, isRunning: boolean, dtS: number): void {
  const { settings } = store;
  const used = (settings.usedPerDayS * dtS) / DAY_S;
  store.levelS = Math.max(0, store.levelS + (isRunning ? dtS : 0) - used);
  if (store.levelS >= settings.fullS) store.isSwitchClosed = false;
  else if (store.levelS <= settings.fullS * settings.closesAtFraction) store.isSwitchClosed = true;
}
