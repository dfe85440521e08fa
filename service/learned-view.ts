/** What the service has learned of its site, for people and programs to look at. */
import type { SiteSettings } from "../config/site-settings.ts";
import { itemAt, numberAt } from "./control/item-at.ts";
import type { LoadMemory, Memory } from "./control/memory.ts";
import { HOURS, isBaseKnown } from "./control/outlook/base-profile.ts";
import { skillAtSite } from "./control/outlook/rest-of-day.ts";
import { PARTS } from "./control/outlook/sky-record.ts";
import type { SkyDay } from "./control/outlook/sky-record.ts";
import { ALTITUDE_CELLS } from "./control/potential-memory.ts";
import type { ArrayResponse } from "./control/potential-memory.ts";
import type { LoadSettings } from "./control/settings.ts";
import { dayText } from "./local-days.ts";
import { timestamp } from "./timestamp.ts";

/** Sides of a cell of sun positions. [deg] */
export const CELL_AZIMUTH_DEG = 10;
export const CELL_ALTITUDE_DEG = 5;

const DEG_PER_RAD = 180 / Math.PI;
/** More than meters and nameplates are usually out by, as a share of it. Ours, no source. */
const FAR_FRACTION = 0.2;

const EVEN_DAY = new Array<number>(PARTS).fill(1);

export interface LearnedCell {
  /** Where the cell begins. [deg] */
  readonly azimuthDeg: number;
  readonly altitudeDeg: number;
  /** Measured over the model of a clean array under a clear sky. [1] > 0 */
  readonly fraction: number;
}

export interface LearnedArray {
  readonly id: string;
  /** Where the sun was not seen yet: as much as a plane that stands so and gives this much. */
  readonly generalFraction: number;
  readonly seenTiltDeg: number;
  readonly seenAzimuthDeg: number;
  readonly cells: readonly LearnedCell[];
}

export interface LearnedHour {
  readonly hour: number;
  /** At the battery bus. [W] */
  readonly meanW: number;
  readonly spreadW: number;
  readonly seenDays: number;
}

export interface LearnedDay {
  /** YYYY-MM-DD */
  readonly date: string;
  /** By twelfths from sunrise to sunset; null: not known. [1] */
  readonly clearnessFractions: readonly (number | null)[];
}

export interface LearnedLoad {
  readonly id: string;
  readonly label: string;
  /** By stage: as the settings say, and as it was seen to draw; null: not seen yet. [W] AC */
  readonly stages: readonly {
    readonly ratedW: number;
    readonly learnedW: number | null;
    /** So far apart that somebody should look which of them is right. */
    readonly isFarFromRated: boolean;
  }[];
}

export interface LearnedView {
  readonly formatVersion: 1;
  /** null: nothing was decided yet. */
  readonly at: string | null;
  readonly site: { readonly id: string; readonly label: string };
  readonly arrays: readonly LearnedArray[];
  readonly baseLoad: {
    /** Every hour of the day was seen often enough. */
    readonly isKnown: boolean;
    readonly hours: readonly LearnedHour[];
  };
  readonly sky: {
    /** Measured over what is expected of a clear sky here, when last seen; null: not yet. [1] */
    readonly clearnessFraction: number | null;
    /** Clearness by the arrays over that by the irradiance sensor; null: not seen. [1] > 0 */
    readonly sensorFactor: number | null;
    /** …and by how much the arrays fall short of that, on the mean; null: as above. [1] 0…1 */
    readonly sensorShortfall: number | null;
    /** Oldest first. */
    readonly days: readonly LearnedDay[];
  };
  /** What forecasts said of those days, held against what came. */
  readonly forecast: {
    /** Days that know both. */
    readonly days: number;
    /** Share of the differences between days that it explains; null: too few days. [1] 0…1 */
    readonly explainedFraction: number | null;
    /** What the present one counts for. [1] 0…1 */
    readonly beliefFraction: number;
  };
  readonly battery: {
    /**
     * Charge lost towards full over what the settings' efficiency says, of lead-acid; null:
     * lithium, or not learned yet. [1] > 0
     */
    readonly lossFactor: number | null;
  };
  readonly loads: readonly LearnedLoad[];
}

export function buildLearnedView(
  site: SiteSettings,
  memory: Memory | null,
  wallMs: number,
): LearnedView {
  const { id, label, control } = site;
  return {
    formatVersion: 1,
    at: memory === null ? null : timestamp(wallMs),
    site: { id, label },
    arrays: memory === null ? [] : arraysOf(site, memory),
    baseLoad: baseLoadOf(memory),
    sky: {
      clearnessFraction: memory?.potential.sky.clearness ?? null,
      ...sensorOf(memory),
      days: memory?.outlook.sky.days.map(dayOf) ?? [],
    },
    forecast: forecastOf(memory),
    battery: { lossFactor: lossFactorOf(site, memory) },
    loads: control.loads.map((load, index) => loadOf(load, memory?.loads[index] ?? null)),
  };
}

/** As the settings say to the last digit: no charge was completed yet. */
function lossFactorOf({ control }: SiteSettings, memory: Memory | null): number | null {
  const lossFactor = memory?.battery.lossFactor ?? 1;
  return control.battery.chemistry === "lfp" || lossFactor === 1 ? null : lossFactor;
}

function sensorOf(
  memory: Memory | null,
): Pick<LearnedView["sky"], "sensorFactor" | "sensorShortfall"> {
  const sky = memory?.potential.sky;
  if (sky === undefined || sky.sensorSeenMs === 0) {
    return { sensorFactor: null, sensorShortfall: null };
  }
  return { sensorFactor: sky.sensorFactor, sensorShortfall: sky.sensorSpread };
}

/** A turbine stands in the list as well, with nothing learned of it. */
function arraysOf({ control }: SiteSettings, { potential }: Memory): LearnedArray[] {
  return potential.responses
    .filter((_, index) => control.sources[index]?.kind === "array")
    .map(arrayOf);
}

function arrayOf({ id, plane, cells }: ArrayResponse): LearnedArray {
  const seen: LearnedCell[] = [];
  for (const [cell, fraction] of cells.entries()) {
    if (fraction === null) continue;
    seen.push({
      azimuthDeg: Math.floor(cell / ALTITUDE_CELLS) * CELL_AZIMUTH_DEG,
      altitudeDeg: (cell % ALTITUDE_CELLS) * CELL_ALTITUDE_DEG,
      fraction,
    });
  }
  const { east, north, up } = plane.normal;
  const generalFraction = Math.hypot(east, north, up);
  return {
    id,
    generalFraction,
    seenTiltDeg: Math.acos(Math.min(1, up / generalFraction)) * DEG_PER_RAD,
    seenAzimuthDeg: (Math.atan2(east, north) * DEG_PER_RAD + 360) % 360,
    cells: seen,
  };
}

function baseLoadOf(memory: Memory | null): LearnedView["baseLoad"] {
  if (memory === null) return { isKnown: false, hours: [] };
  const { base } = memory.outlook;
  const hours: LearnedHour[] = [];
  for (let hour = 0; hour < HOURS; hour += 1) {
    hours.push({
      hour,
      meanW: numberAt(base.meanW, hour),
      spreadW: numberAt(base.spreadW, hour),
      seenDays: numberAt(base.seen, hour),
    });
  }
  return { isKnown: isBaseKnown(base), hours };
}

function dayOf({ localDay, clearness }: SkyDay): LearnedDay {
  return {
    date: dayText(localDay),
    clearnessFractions: clearness.map((fraction) => (fraction < 0 ? null : fraction)),
  };
}

/** Before the sun of a day is known each of its parts counts as much. */
function forecastOf(memory: Memory | null): LearnedView["forecast"] {
  const clearWh = memory?.outlook.clearDays?.today.partWh ?? EVEN_DAY;
  const skill = skillAtSite(memory?.outlook.sky.days ?? [], clearWh);
  return {
    days: skill.days,
    explainedFraction: skill.explained,
    beliefFraction: skill.belief,
  };
}

function loadOf({ id, label, stagesW }: LoadSettings, memory: LoadMemory | null): LearnedLoad {
  return {
    id,
    label,
    stages: stagesW.map((ratedW, stage) => {
      const learnedW = memory === null ? null : itemAt(memory.draw.learnedW, stage);
      const differenceW = learnedW === null ? 0 : Math.abs(learnedW - ratedW);
      return { ratedW, learnedW, isFarFromRated: differenceW > FAR_FRACTION * ratedW };
    }),
  };
}
