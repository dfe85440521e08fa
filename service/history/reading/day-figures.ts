/**
 * What a day came to, out of its minutes and events. Every minute that was recorded counts as a
 * whole one; of one that was not nothing is known, and `coveredFraction` says how many there are.
 */
import type { DayTable } from "./day-table.ts";
import type { Column } from "./minutes.ts";
import type { LoadRun } from "./runs.ts";

export interface LoadFigures {
  readonly energyWh: number;
  readonly starts: number;
  /** Of runs and rests that began and ended on this day. [min]; null: there was none. */
  readonly shortestRunMin: number | null;
  readonly shortestRestMin: number | null;
}

export interface DayFigures {
  /** Share of the day's minutes that was recorded. [1] 0…1 */
  readonly coveredFraction: number;
  readonly pvWh: number;
  readonly sourcesWh: number;
  /** With what was held back; null: not known. */
  readonly potentialWh: number | null;
  readonly curtailedWh: number | null;
  /** For so long the arrays were held back. [min] */
  readonly curtailedMin: number;
  /** AC energy of all use, of everyday use, and of opportunity loads. */
  readonly usedWh: number;
  readonly baseWh: number;
  readonly divertedWh: number;
  /** What of it loads took because a person, or their own deadline, wanted it so. */
  readonly askedWh: number;
  /** What of the rest came from the battery while it was under the rule curve. */
  readonly reserveDrawnWh: number;
  readonly generatorWh: number;
  readonly chargedWh: number;
  readonly dischargedWh: number;
  readonly lowestSocFraction: number | null;
  readonly sunsetSocFraction: number | null;
  readonly endSocFraction: number | null;
  readonly starts: number;
  readonly loads: Readonly<Record<string, LoadFigures>>;
}

const MINUTES_PER_HOUR = 60;
const HALF = 0.5;

export function dayFigures(
  table: DayTable,
  day: {
    readonly lengthMin: number;
    readonly runs: ReadonlyMap<string, LoadRun>;
    readonly lowestSocFraction: number | null;
  },
): DayFigures {
  const { curtailedFraction, socFraction, batteryPowerW } = table;
  const loads = loadFigures(table, day.runs);
  const all = Object.values(loads);
  return {
    coveredFraction: rounded(Math.min(1, table.minutes.length / day.lengthMin), 4),
    pvWh: energyWh(table.pvPowerW),
    sourcesWh: energyWh(table.sourcesPowerW),
    ...potentialFigures(table),
    curtailedMin: rounded(sumOf(curtailedFraction), 1),
    usedWh: energyWh(table.usedPowerW),
    baseWh: energyWh(table.basePowerW),
    divertedWh: rounded(
      all.reduce((sum, load) => sum + load.energyWh, 0),
      1,
    ),
    askedWh: energyWh(table.minutes.map((_, place) => takenW(table, place, true))),
    reserveDrawnWh: reserveDrawnWh(table),
    generatorWh: energyWh(table.generatorPowerW),
    chargedWh: energyWh(batteryPowerW.map((powerW) => Math.max(0, powerW ?? 0))),
    dischargedWh: energyWh(batteryPowerW.map((powerW) => Math.max(0, -(powerW ?? 0)))),
    lowestSocFraction: day.lowestSocFraction,
    sunsetSocFraction: socAtSunset(table),
    endSocFraction: socFraction.findLast((fraction) => fraction !== null) ?? null,
    starts: all.reduce((sum, load) => sum + load.starts, 0),
    loads,
  };
}

function loadFigures(
  table: DayTable,
  runs: ReadonlyMap<string, LoadRun>,
): Record<string, LoadFigures> {
  const ids = [...new Set([...table.loads.keys(), ...runs.keys()])].sort();
  return Object.fromEntries(
    ids.map((id) => {
      const { starts = 0, shortestRunMin = null, shortestRestMin = null } = runs.get(id) ?? {};
      const power = table.loads.get(id)?.powerW ?? [];
      return [id, { energyWh: energyWh(power), starts, shortestRunMin, shortestRestMin }];
    }),
  );
}

/** Where nothing was held back, what came was all there was. */
function potentialFigures({
  sourcesPowerW,
  potentialW,
  curtailedFraction,
}: DayTable): Pick<DayFigures, "potentialWh" | "curtailedWh"> {
  let heldBackWh = 0;
  for (const [place, share] of curtailedFraction.entries()) {
    if (share === null || share <= 0) continue;
    const potential = potentialW[place] ?? null;
    if (potential === null) return { potentialWh: null, curtailedWh: null };
    const missingW = Math.max(0, potential - (sourcesPowerW[place] ?? 0));
    heldBackWh += (missingW * share) / MINUTES_PER_HOUR;
  }
  return {
    potentialWh: rounded(energyWh(sourcesPowerW) + heldBackWh, 1),
    curtailedWh: rounded(heldBackWh, 1),
  };
}

/** What all loads took in a minute, with or without a person's asking. [W] AC */
function takenW({ loads }: DayTable, place: number, isAsked: boolean): number {
  let sumW = 0;
  for (const load of loads.values()) {
    if (load.isAsked[place] === isAsked) sumW += load.powerW[place] ?? 0;
  }
  return sumW;
}

/**
 * As far as loads and battery were each at work: who fed whom within a minute nobody can say. What
 * a person asked for is theirs to spend.
 */
function reserveDrawnWh(table: DayTable): number {
  const { bandFraction, batteryPowerW } = table;
  const drawnW = bandFraction.map((band, place) => {
    if (band === null || band >= 0) return 0;
    const givenW = Math.max(0, -(batteryPowerW[place] ?? 0));
    return Math.min(givenW, takenW(table, place, false));
  });
  return energyWh(drawnW);
}

/** In the last minute of daylight; null while the sun is up, and where it never was. */
function socAtSunset({ daylightFraction, socFraction }: DayTable): number | null {
  const last = daylightFraction.findLastIndex((share) => share !== null && share >= HALF);
  const isOver = daylightFraction.slice(last + 1).some((share) => share !== null);
  return last >= 0 && isOver ? (socFraction[last] ?? null) : null;
}

function sumOf(column: Column): number {
  return column.reduce<number>((sum, value) => sum + (value ?? 0), 0);
}

function energyWh(powerW: Column): number {
  return rounded(sumOf(powerW) / MINUTES_PER_HOUR, 1);
}

function rounded(value: number, decimals: number): number {
  return Number(value.toFixed(decimals));
}
