import type { ChargeStage } from "../../service/control/observation.ts";
import type { ChargerSettings } from "./plant-settings.ts";

/** Changes in place; one set-point for all arrays. */
export interface Charger {
  readonly settings: ChargerSettings;
  stage: ChargeStage;
  absorbingS: number;
  tailS: number;
  darkS: number;
  /** Absorptions brought to their end since the plant was made. */
  absorptionsCompleted: number;
}

export function createCharger(settings: ChargerSettings): Charger {
  return { settings, stage: "bulk", absorbingS: 0, tailS: 0, darkS: 0, absorptionsCompleted: 0 };
}

/** Sun-less time after which the next light starts a new charge. [s] */
const NIGHT_S = 3600;

/** Voltage is held at the set-point if within this. [V] */
const HELD_WITHIN_V = 0.05;

/** Set-points are given for this temperature. [°C] */
const REFERENCE_C = 25;

/** Set-point of the present stage. [V] */
export function setPointV(charger: Charger, temperatureC: number): number {
  const { absorptionV, floatV, compensationVPerK } = charger.settings;
  const at25V = charger.stage === "float" ? floatV : absorptionV;
  return at25V + compensationVPerK * (temperatureC - REFERENCE_C);
}

/**
 * Carries the stage over a step: bulk until the set-point holds, absorption until only tail current
 * flows *while the voltage is at the set-point* (a cloud's small current does not count) or its
 * time is up, then float until the voltage sags or a new day begins.
 *
 * @check test/simulator/charge-controller.test.ts
 */
export function advanceCharger(
  charger: Charger,
  seen: {
    readonly batteryVoltageV: number;
    readonly batteryCurrentA: number;
    readonly batteryTemperatureC: number;
    /** What the arrays could give. [W] */
    readonly sunPotentialW: number;
  },
  dtS: number,
): void {
  const isDark = seen.sunPotentialW < 1;
  if (!isDark && charger.darkS >= NIGHT_S) restart(charger);
  charger.darkS = isDark ? charger.darkS + dtS : 0;
  const heldAtV = setPointV(charger, seen.batteryTemperatureC);
  const isHeld = seen.batteryVoltageV >= heldAtV - HELD_WITHIN_V;
  if (charger.stage === "bulk" && isHeld) charger.stage = "absorption";
  else if (charger.stage === "absorption") absorb(charger, isHeld && seen, dtS);
  else if (
    charger.stage === "float" &&
    seen.batteryVoltageV < heldAtV - charger.settings.rebulkBelowV
  ) {
    restart(charger);
  }
}

function absorb(
  charger: Charger,
  heldAt: { readonly batteryCurrentA: number } | false,
  dtS: number,
): void {
  if (heldAt === false) {
    charger.tailS = 0;
    return;
  }
  charger.absorbingS += dtS;
  charger.tailS = heldAt.batteryCurrentA <= charger.settings.tailCurrentA ? charger.tailS + dtS : 0;
  if (
    charger.tailS < charger.settings.tailS &&
    charger.absorbingS < charger.settings.absorptionMaxS
  )
    return;
  restart(charger);
  charger.stage = "float";
  charger.absorptionsCompleted += 1;
}

function restart(charger: Charger): void {
  charger.stage = "bulk";
  charger.absorbingS = 0;
  charger.tailS = 0;
}
