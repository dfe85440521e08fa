/** The minutes of a day under the names that people use: what was there, used and held back. */
import type { ControlSettings } from "../../control/settings.ts";
import type { Column, Minutes } from "./minutes.ts";

export interface LoadColumns {
  /** Its meter, else what was told of it, else (of older days) what it was allotted. [W] AC */
  readonly powerW: Column;
  /** What its meter says, else what it was allotted. [W] AC */
  readonly allottedW: Column;
  /** It ran because a person, or its own deadline, wanted it so. */
  readonly isAsked: readonly boolean[];
  /** It stayed off because a person had asked for that. */
  readonly isHeldOff: readonly boolean[];
  /** [°C] */
  readonly tankTemperatureC: Column | null;
}

export interface DayTable {
  readonly minutes: readonly number[];
  /** At the battery bus, of all sources and of the arrays alone. [W] */
  readonly sourcesPowerW: Column;
  readonly pvPowerW: Column;
  /** The service's own estimate of what the sources could have given. [W] */
  readonly potentialW: Column;
  /** Share of the minute in which the arrays were held back. [1] 0…1 */
  readonly curtailedFraction: Column;
  readonly daylightFraction: Column;
  readonly batteryPowerW: Column;
  readonly batteryVoltageV: Column;
  readonly batteryCurrentA: Column;
  readonly batteryTemperatureC: Column;
  readonly socFraction: Column;
  readonly ruleCurveFraction: Column;
  readonly bandFraction: Column;
  readonly chargeStages: readonly (string | null)[];
  /** Inverter's AC output, with and without the opportunity loads. [W] */
  readonly usedPowerW: Column;
  readonly basePowerW: Column;
  readonly generatorPowerW: Column;
  readonly loads: ReadonlyMap<string, LoadColumns>;
}

const LOAD = /^(?:decision[.])?loads[.]([^.]+)[.]/u;

/** @param sources - Of the settings: which of them are arrays. */
export function dayTable(minutes: Minutes, sources: ControlSettings["sources"]): DayTable {
  const none = minutes.minutes.map(() => null);
  const column = (name: string): Column => minutes.means.get(name) ?? none;
  const loads = loadColumns(minutes, none);
  const arrays = sources.filter(({ kind }) => kind === "array");
  const usedPowerW = column("inverter.powerW");
  const loadPowersW = [...loads.values()].map(({ powerW }) => powerW);
  return {
    minutes: minutes.minutes,
    sourcesPowerW: column("decision.sourcesPowerW"),
    pvPowerW: sumOf(
      arrays.map(({ id }) => column(`sources.${id}.powerW`)),
      none,
    ),
    potentialW: column("decision.potentialW"),
    curtailedFraction: column("decision.isCurtailed"),
    daylightFraction: column("decision.isDaylight"),
    batteryPowerW: column("decision.batteryPowerW"),
    batteryVoltageV: column("battery.voltageV"),
    batteryCurrentA: column("battery.currentA"),
    batteryTemperatureC: column("battery.temperatureC"),
    socFraction: column("decision.socFraction"),
    ruleCurveFraction: column("decision.ruleCurveFraction"),
    bandFraction: column("decision.bandFraction"),
    chargeStages: minutes.chargeStages,
    usedPowerW,
    basePowerW: baseOf(usedPowerW, sumOf(loadPowersW, none)),
    generatorPowerW: column("generatorPowerW"),
    loads,
  };
}

/** Also of loads that the settings no longer have: their day was as it was. */
function loadColumns({ means }: Minutes, none: Column): Map<string, LoadColumns> {
  const ids = new Set<string>();
  for (const name of means.keys()) {
    const id = LOAD.exec(name)?.[1];
    if (id !== undefined) ids.add(id);
  }
  const entries = [...ids].sort().map((id) => {
    const metered = means.get(`loads.${id}.powerW`) ?? none;
    const allotted = means.get(`decision.loads.${id}.allottedW`) ?? none;
    const drawn = means.get(`decision.loads.${id}.drawnW`) ?? none;
    const allottedW = metered.map((value, place) => value ?? allotted[place] ?? null);
    const powerW = metered.map((value, place) => value ?? drawn[place] ?? allottedW[place] ?? null);
    const tankTemperatureC = means.get(`loads.${id}.tankTemperatureC`) ?? null;
    const isSo = (name: string): boolean[] =>
      (means.get(`decision.loads.${id}.${name}`) ?? none).map((share) => share !== null);
    const [isAsked, isHeldOff] = [isSo("isAsked"), isSo("isHeldOff")];
    return [id, { powerW, allottedW, isAsked, isHeldOff, tankTemperatureC }] as const;
  });
  return new Map(entries);
}

/** What is not known of one of them counts as nothing, unless nothing is known of any. */
function sumOf(columns: readonly Column[], none: Column): Column {
  return none.map((_, place) => {
    const values = columns.map((column) => column[place] ?? null).filter((value) => value !== null);
    return values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0);
  });
}

function baseOf(used: Column, loads: Column): Column {
  return used.map((value, place) =>
    value === null ? null : Math.max(0, value - (loads[place] ?? 0)),
  );
}
