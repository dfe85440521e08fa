/** A closed site for the outlook: a sun, a battery that stores, a habit. By minutes. */
import { initialMemory } from "../../../service/control/memory.ts";
import type { Memory } from "../../../service/control/memory.ts";
import type { Decision } from "../../../service/control/decision.ts";
import type { Observation } from "../../../service/control/observation.ts";
import type { ControlSettings } from "../../../service/control/settings.ts";
import { step } from "../../../service/control/step.ts";
import { modelPowerW } from "../../../service/solar/array-model.ts";
import { fresh, lfpBattery, loadObservation, MINUTE_MS, observe, site } from "../given.ts";

export const DAY_MINUTES = 1440;

export function outlookSite(over: Partial<ControlSettings> = {}): ControlSettings {
  return site({
    battery: lfpBattery({ sunsetTargetFraction: 0.9 }),
    ruleCurve: { kind: "outlook", atFraction: 0.94, cautionFraction: 0.9 },
    ...over,
  });
}

export interface Shed {
  /** Share of the clear-sky power at a minute of the run. */
  readonly clearness: (minute: number) => number;
  /** Everyday use. [W] AC */
  readonly baseW: (minute: number) => number;
  /** Changes the observation last. */
  readonly over?: (observation: Observation, minute: number) => Observation;
  readonly startFraction?: number;
}

/** What a minute came to; the minute counts from midnight of the first day. */
export interface Minute {
  readonly minute: number;
  readonly decision: Decision;
  readonly socFraction: number;
  readonly memory: Memory;
}

/** Runs the core in a shed in which power adds up and the battery takes whatever is left. */
export function liveIn(
  settings: ControlSettings,
  minutes: number,
  { clearness, baseW, over = (seen) => seen, startFraction = 0.8 }: Shed,
): Minute[] {
  const lived: Minute[] = [];
  const array = settings.sources.find((source) => source.kind === "array");
  const { capacityAh, nominalVoltageV, absorptionVoltageV } = settings.battery;
  const capacityWh = capacityAh * nominalVoltageV;
  let memory = initialMemory(settings, 0);
  let socFraction = startFraction;
  for (let minute = 0; minute < minutes; minute += 1) {
    const loadsW = memory.loads.reduce((sum, load) => sum + load.powerW, 0);
    // `observe` begins at noon: half a day back is midnight.
    const atMs = minute * MINUTE_MS;
    const wallMs = observe(settings, atMs).wallMs - (DAY_MINUTES / 2) * MINUTE_MS;
    const sunW = array === undefined ? 0 : clearness(minute) * modelPowerW(array, settings, wallMs);
    const inverterW = (baseW(minute) + loadsW) / 0.92 + 35;
    const wantedW = sunW - inverterW;
    const isFull = socFraction >= 1 && wantedW > 0;
    const batteryW = isFull ? 0 : wantedW;
    const voltageV = isFull ? absorptionVoltageV : nominalVoltageV + 1;
    const seen = observe(settings, atMs, {
      socFraction,
      voltageV,
      currentA: batteryW / voltageV,
      inverterW: baseW(minute) + loadsW,
      arrayW: isFull ? inverterW : sunW,
      loads: memory.loads.map(({ stage }) => loadObservation({ reportedStage: fresh(stage) })),
      over: {
        wallMs,
        localDay: 20_625 + Math.floor(minute / DAY_MINUTES),
        localMinute: minute % DAY_MINUTES,
      },
    });
    const result = step(memory, over(seen, minute), settings);
    memory = result.memory;
    lived.push({ minute, decision: result.decision, socFraction, memory });
    const storedWh = batteryW > 0 ? (0.94 * batteryW) / 60 : batteryW / 60;
    socFraction = Math.min(1, Math.max(0, socFraction + storedWh / capacityWh));
  }
  return lived;
}
