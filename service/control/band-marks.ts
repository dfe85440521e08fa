/** A load's start and stop marks, whichever way the state of the battery is known. */
import type { SiteVerdict } from "./decision.ts";
import type { BatterySettings, LoadSettings } from "./settings.ts";
import type { VerdictCode } from "./verdict-codes.ts";

/** What the marks are compared with in this tick. */
export interface BandView {
  readonly site: Pick<
    SiteVerdict,
    | "socSource"
    | "socFraction"
    | "ruleCurveFraction"
    | "bandFraction"
    | "restVoltageV"
    | "outlook"
    | "isCurtailed"
  >;
  /** Voltage is held at the set-point of the charge stage. */
  readonly isAtSetpoint: boolean;
  readonly battery: BatterySettings;
}

export interface MarkVerdict {
  readonly code: VerdictCode;
  readonly measured: number | null;
  readonly limit: number | null;
}

/**
 * Held at its set-point by arrays that have more to give, the battery gets all that it can take: no
 * waiting makes it fuller by sunset. What it takes stays its claim while it is under the curve.
 */
function isRefusing({ site, isAtSetpoint }: BandView): boolean {
  return isAtSetpoint && site.isCurtailed && site.outlook !== null;
}

/** At or over the start mark. Without any state of charge: no. */
export function isAboveStart(load: LoadSettings, view: BandView): boolean {
  const { site, battery } = view;
  if (site.bandFraction !== null) {
    return site.bandFraction >= load.startAboveFraction || isRefusing(view);
  }
  if (site.socSource !== "voltage" || site.restVoltageV === null) return false;
  if (battery.chemistry === "lfp") return view.isAtSetpoint;
  return battery.voltageMode !== null && site.restVoltageV >= battery.voltageMode.startV;
}

/** Under the stop mark. Without any state of charge: yes. */
export function isBelowStop(load: LoadSettings, view: BandView): boolean {
  const { site, battery } = view;
  if (site.bandFraction !== null) {
    return site.bandFraction < -load.stopBelowFraction && !isRefusing(view);
  }
  if (site.socSource !== "voltage" || site.restVoltageV === null) return true;
  if (battery.chemistry === "lfp") return !view.isAtSetpoint;
  return battery.voltageMode === null || site.restVoltageV < battery.voltageMode.stopV;
}

/**
 * Something keeps the battery from its set-point while a full charge is overdue, or a lead-acid one
 * in absorption whose current is not measured; no discharge has to show that.
 */
export function isKeptFromSetpoint(
  site: Pick<SiteVerdict, "chargeStage" | "isFullChargeDue" | "availableW">,
  { isAtSetpoint, battery }: BandView,
): boolean {
  if (isAtSetpoint) return false;
  const isAbsorbing = battery.chemistry !== "lfp" && site.chargeStage === "absorption";
  return site.isFullChargeDue || (isAbsorbing && site.availableW === null);
}

export function waitingForMark(load: LoadSettings, view: BandView): MarkVerdict {
  const { site, battery } = view;
  if (site.bandFraction !== null || site.socSource !== "voltage") {
    return {
      code: "waiting-band",
      measured: site.socFraction,
      limit: site.ruleCurveFraction + load.startAboveFraction,
    };
  }
  const { voltageMode } = battery;
  if (battery.chemistry === "lfp" || voltageMode === null) {
    return { code: "waiting-full", measured: null, limit: null };
  }
  return { code: "waiting-voltage", measured: site.restVoltageV, limit: voltageMode.startV };
}

export function stoppedAtMark(load: LoadSettings, view: BandView): MarkVerdict {
  const { site, battery } = view;
  if (site.bandFraction !== null || site.socSource !== "voltage") {
    return {
      code: "stopped-band",
      measured: site.socFraction,
      limit: stopMarkFraction(load, site),
    };
  }
  const { voltageMode } = battery;
  if (battery.chemistry === "lfp" || voltageMode === null) {
    return { code: "stopped-not-full", measured: null, limit: null };
  }
  return { code: "stopped-voltage", measured: site.restVoltageV, limit: voltageMode.stopV };
}

/** State of charge under which the load stops. [1] */
export function stopMarkFraction(
  load: LoadSettings,
  site: Pick<SiteVerdict, "ruleCurveFraction">,
): number {
  return site.ruleCurveFraction - load.stopBelowFraction;
}
