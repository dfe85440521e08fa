/**
 * Values that should not wait for the next tick. This decides nothing: it only asks for the tick
 * early, and the core's interlocks judge.
 */
import type { SignalSettings } from "../../config/site-settings.ts";
import type { ControlSettings } from "../control/settings.ts";
import type { SignalValue } from "./payload.ts";

export type IsPastLimit = (value: SignalValue) => boolean;

/** @returns null for a signal that no interlock watches. */
export function limitOf(signal: SignalSettings, control: ControlSettings): IsPastLimit | null {
  const { battery, inverter } = control;
  switch (signal.key) {
    case "battery.voltage":
      return outside({ min: battery.lowVoltageV, max: battery.highVoltageV ?? Infinity });
    case "battery.soc":
      return below(battery.floorFraction - battery.floorMarginFraction);
    case "battery.dischargeBlocked":
    case "inverter.fault":
    case "generator.running":
      return (value) => value === true;
    case "inverter.power":
      return above(inverter.continuousW);
    case "inverter.temperature":
      return inverter.temperatureMaxC === null ? null : above(inverter.temperatureMaxC);
    case "inverter.acVoltage":
      return inverter.acVoltage === null
        ? null
        : outside({ min: inverter.acVoltage.minV, max: inverter.acVoltage.maxV });
    case "inverter.frequency":
      return inverter.frequency === null
        ? null
        : outside({ min: inverter.frequency.minHz, max: inverter.frequency.maxHz });
    case "load.{id}.tankTemperature": {
      const tank = control.loads.find((load) => load.id === signal.ownerId)?.tank ?? null;
      return tank === null ? null : (value) => typeof value === "number" && value >= tank.limitC;
    }
    case "panel.{id}.power": {
      const panel = control.panels.find((candidate) => candidate.id === signal.ownerId);
      return panel === undefined ? null : above(panel.feederMaxW);
    }
    case "panel.{id}.report":
      return (value) => value === false;
    case "load.{id}.sourceLow":
    case "load.{id}.pressed":
      return (value) => value === true;
    case "leg.{id}.power": {
      const leg = inverter.legs.find((candidate) => candidate.id === signal.ownerId);
      return leg === undefined ? null : above(leg.continuousVA);
    }
    case "load.{id}.pipeTemperature": {
      const load = control.loads.find((candidate) => candidate.id === signal.ownerId);
      const minC = load?.pump?.pipeMinC ?? null;
      return minC === null ? null : below(minC);
    }
    case "battery.chargeLimit":
    case "battery.dischargeLimit":
    case "array.{id}.chargeStage":
    case "dcLoads.power":
    case "generator.power":
    case "forecast.today":
    case "forecast.tomorrow":
    case "sky.irradiance":
    case "load.{id}.flow":
    case "load.{id}.level":
    case "battery.current":
    case "battery.temperature":
    case "battery.chargeStage":
    case "battery.chargeBlocked":
    case "array.{id}.power":
    case "hydro.{id}.power":
    case "hydro.{id}.dumpPower":
    case "wind.{id}.power":
    case "wind.{id}.dumpPower":
    case "load.{id}.report":
    case "load.{id}.power":
    case "load.{id}.byHand":
      return null;
  }
}

function above(limit: number): IsPastLimit {
  return (value) => typeof value === "number" && value > limit;
}

function below(limit: number): IsPastLimit {
  return (value) => typeof value === "number" && value < limit;
}

function outside(range: { readonly min: number; readonly max: number }): IsPastLimit {
  return (value) => typeof value === "number" && (value < range.min || value > range.max);
}
