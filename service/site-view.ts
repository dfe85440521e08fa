/** What of the settings a picture of the site needs: the heights of its marks, and who is who. */
import type { SiteSettings } from "../config/site-settings.ts";
import type { Chemistry, LoadSettings } from "./control/settings.ts";

export interface LoadSiteView {
  readonly id: string;
  readonly label: string;
  readonly priority: number;
  /** Rated AC power of each stage; of a modulating load its least and its greatest. [W] */
  readonly stagesW: readonly number[];
  readonly isModulating: boolean;
  /** Over the rule curve. [1] */
  readonly startAboveFraction: number;
  /** Under the rule curve. [1] */
  readonly stopBelowFraction: number;
}

/** Where the site is stands in none of it: who may read need not know. */
export interface SiteView {
  readonly formatVersion: 1;
  readonly id: string;
  readonly label: string;
  readonly timeZone: string;
  readonly tickS: number;
  /** The time is that of a demo or a rig, and no real shed is switched. */
  readonly isTimeSimulated: boolean;
  /** Days and events are kept, and can be asked for. */
  readonly hasHistory: boolean;
  readonly battery: {
    readonly chemistry: Chemistry;
    readonly capacityWh: number;
    readonly floorFraction: number;
    readonly sunsetTargetFraction: number;
    /** Marks for a battery that is known by its voltage alone; null: none are set. */
    readonly voltageMarks: { readonly startV: number; readonly stopV: number } | null;
  };
  readonly loads: readonly LoadSiteView[];
}

export function buildSiteView(
  site: SiteSettings,
  { isTimeSimulated, hasHistory }: Pick<SiteView, "isTimeSimulated" | "hasHistory">,
): SiteView {
  const { id, label, timeZone, control } = site;
  const { battery } = control;
  return {
    formatVersion: 1,
    id,
    label,
    timeZone,
    tickS: control.tickMs / 1000,
    isTimeSimulated,
    hasHistory,
    battery: {
      chemistry: battery.chemistry,
      capacityWh: battery.capacityAh * battery.nominalVoltageV,
      floorFraction: battery.floorFraction,
      sunsetTargetFraction: battery.sunsetTargetFraction,
      voltageMarks: battery.voltageMode,
    },
    loads: control.loads.map(loadView),
  };
}

function loadView(load: LoadSettings): LoadSiteView {
  const { modulating } = load;
  return {
    id: load.id,
    label: load.label,
    priority: load.priority,
    stagesW: modulating === null ? load.stagesW : [modulating.minW, modulating.maxW],
    isModulating: modulating !== null,
    startAboveFraction: load.startAboveFraction,
    stopBelowFraction: load.stopBelowFraction,
  };
}
