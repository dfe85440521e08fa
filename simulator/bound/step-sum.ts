import type { SiteSettings } from "../../config/site-settings.ts";
import type { DayWindow, LoadSettings } from "../../service/control/settings.ts";
import type { LoadPlantSettings } from "../plant/load-plant-settings.ts";
import type { PlantInput } from "../plant/plant.ts";
import type { PlantSettings } from "../plant/plant-settings.ts";
import type { PlantTruth } from "../plant/plant-truth.ts";
import { advanceSockets, createSockets, socketsPowerW } from "../plant/sockets.ts";
import { PROFILE_M, wantedByMinuteWh } from "../plant/tapping-profile.ts";
import type { SunsetStep } from "../sunset-watch.ts";
import type { BoundStep, LoadStep } from "./bound-step.ts";
import { highestSetPointV } from "./set-point.ts";

/** The step that is being gathered; `take` closes it and begins the next. */
export interface StepSum {
  add(
    input: PlantInput,
    reference: PlantTruth,
    when: { readonly at: SunsetStep; readonly mayRun: boolean },
  ): void;
  take(end: Pick<BoundStep, "localDay" | "isSunset" | "referenceFraction">): BoundStep;
}

interface Sums {
  hours: number;
  netWh: number;
  headroomWh: number;
  baseMinW: number;
  isChargeBlocked: boolean;
}

export function createStepSum(site: SiteSettings, plant: PlantSettings): StepSum {
  const loads = plant.loads.map((load, i) => createLoadSum(load, site.control.loads[i]));
  const { continuousW } = plant.inverter;
  let sums = emptySums();
  return {
    add(input, reference, { at, mayRun }) {
      const hours = at.dtS / 3600;
      const { baseAcW } = reference;
      sums.hours += hours;
      sums.netWh += (offeredW(input, plant) - reference.inverterDcW) * hours;
      sums.headroomWh += Math.max(0, continuousW - baseAcW) * hours;
      sums.baseMinW = Math.min(sums.baseMinW, baseAcW);
      sums.isChargeBlocked &&= reference.isChargeBlocked;
      for (const load of loads) load.add(at, mayRun);
    },
    take({ localDay, isSunset, referenceFraction }) {
      const { hours } = sums;
      const step: BoundStep = {
        hours,
        localDay,
        netW: sums.netWh / hours,
        baseMinW: sums.baseMinW,
        headroomW: sums.headroomWh / hours,
        isSunset,
        isChargeBlocked: sums.isChargeBlocked,
        referenceFraction,
        loads: loads.map((load) => load.take(hours)),
      };
      sums = emptySums();
      return step;
    },
  };
}

function emptySums(): Sums {
  return { hours: 0, netWh: 0, headroomWh: 0, baseMinW: Infinity, isChargeBlocked: true };
}

/** All that sources and a called generator could give, at the highest voltage. [W] */
function offeredW(input: PlantInput, plant: PlantSettings): number {
  let offered = input.isGeneratorCalled ? (plant.generator?.chargerW ?? 0) : 0;
  const highestV = highestSetPointV(plant, input.batteryTemperatureC);
  for (const [i, { currentLimitA }] of plant.arrays.entries()) {
    offered += Math.min(input.arrayPotentialW[i] ?? 0, (currentLimitA ?? Infinity) * highestV);
  }
  for (const { powerW } of plant.hydro) offered += powerW;
  for (const powerW of input.windPotentialW) offered += powerW;
  return offered;
}

interface LoadSum {
  add(at: SunsetStep, mayRun: boolean): void;
  take(hours: number): LoadStep;
}

function createLoadSum(plant: LoadPlantSettings, load: LoadSettings | undefined): LoadSum {
  const wanted = wantedByMinuteWh(PROFILE_M);
  const scale = plant.tank?.drawScale ?? 0;
  const ratedW = plant.modulating?.maxW ?? plant.stagesW.at(-1) ?? 0;
  const sockets = plant.sockets === null ? null : createSockets(plant.sockets);
  const windows = load?.windows ?? [];
  let allowedWh = 0;
  let wantedWh = 0;
  return {
    add({ dtS, localMinute }, mayRun) {
      if (mayRun && isWithin(windows, localMinute)) {
        const powerW = sockets === null ? ratedW : socketsPowerW(sockets, true);
        allowedWh += (powerW * dtS) / 3600;
      }
      wantedWh += (scale * (wanted[Math.floor(localMinute)] ?? 0) * dtS) / 60;
      if (sockets !== null) advanceSockets(sockets, true, dtS);
    },
    take(hours) {
      const step = { maxW: allowedWh / hours, wantedWh };
      allowedWh = 0;
      wantedWh = 0;
      return step;
    },
  };
}

function isWithin(windows: readonly DayWindow[], minute: number): boolean {
  if (windows.length === 0) return true;
  return windows.some(({ fromMinute, toMinute }) =>
    fromMinute <= toMinute
      ? minute >= fromMinute && minute < toMinute
      : minute >= fromMinute || minute < toMinute,
  );
}
