/** Recorded days as day files, out of the minutes of the history. */
import type { LocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { CHARGE_STAGES } from "../../simulator/days/day-file.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { dayTable } from "../history/reading/day-table.ts";
import type { DayTable } from "../history/reading/day-table.ts";
import { figureNames } from "../history/reading/days.ts";
import { readMinutes } from "../history/reading/minutes.ts";
import type { Column } from "../history/reading/minutes.ts";
import type { Reader } from "../history/reading/reader.ts";
import { dayStretch } from "../local-days.ts";

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
const PERCENT = 100;
const SOURCE = "recorded by Bywash: minute means; powers of loads without a meter as allotted";

export interface ExportOptions {
  readonly site: SiteSettings;
  readonly calendar: LocalCalendar;
  /** With the service's own estimate of what the sources could have given. */
  readonly withPotential: boolean;
}

/** One piece for each day, all with the same columns. @throws Error of the database */
export function* exportedDays(
  reader: Reader,
  localDays: readonly number[],
  options: ExportOptions,
): Generator<DaySeries> {
  const { site, calendar } = options;
  const columns = columnsOf(figureNames(reader), options);
  for (const localDay of localDays) {
    const minutes = readMinutes(reader, dayStretch(localDay, calendar));
    if (minutes.minutes.length === 0) continue;
    const table = dayTable(minutes, site.control.sources);
    const timesMs = Float64Array.from(table.minutes, (minute) => minute * MINUTE_MS);
    yield {
      name: site.id,
      site: site.id,
      source: SOURCE,
      place: {
        latitudeDeg: site.control.latitudeDeg,
        longitudeDeg: site.control.longitudeDeg,
        utcOffsetMs: utcOffsetMs(timesMs[0] ?? 0, calendar),
      },
      stepMs: MINUTE_MS,
      timesMs,
      utcOffsetsMs: timesMs.map((atMs) => utcOffsetMs(atMs, calendar)),
      columns: new Map(
        [...columns].map(([name, read]) => [
          name,
          Float64Array.from(read(table), (value) => value ?? NaN),
        ]),
      ),
      gaps: [],
    };
  }
}

function utcOffsetMs(atMs: number, calendar: LocalCalendar): number {
  const { localDay, localMinute } = calendar(atMs);
  return localDay * DAY_MS + localMinute * MINUTE_MS - Math.floor(atMs / MINUTE_MS) * MINUTE_MS;
}

type ReadColumn = (table: DayTable) => Column;

/** Only what the history has minutes of: a column that is empty for ever says nothing. */
function columnsOf(names: readonly string[], options: ExportOptions): Map<string, ReadColumn> {
  const known = new Set(names);
  const isAny = (ending: RegExp): boolean => names.some((name) => ending.test(name));
  const columns = new Map<string, ReadColumn>();
  const add = (isKnown: boolean, name: string, read: ReadColumn): void => {
    if (isKnown) columns.set(name, read);
  };
  add(isAny(/^sources[.].*[.]powerW$/u), "pv_power_w", ({ pvPowerW }) => pvPowerW);
  const hasPotential = options.withPotential && known.has("decision.potentialW");
  add(hasPotential, "pv_potential_w", arrayPotential);
  add(known.has("decision.isCurtailed"), "curtailed", ({ curtailedFraction }) =>
    curtailedFraction.map((share) => (share === null ? null : Math.round(share))),
  );
  add(known.has("decision.socFraction"), "battery_soc_percent", ({ socFraction }) =>
    socFraction.map((fraction) => (fraction === null ? null : fraction * PERCENT)),
  );
  add(known.has("battery.voltageV"), "battery_voltage_v", (table) => table.batteryVoltageV);
  add(known.has("battery.currentA"), "battery_current_a", (table) => table.batteryCurrentA);
  add(known.has("battery.temperatureC"), "battery_temperature_c", (table) => {
    return table.batteryTemperatureC;
  });
  add(true, "charge_stage", ({ chargeStages }) => chargeStages.map(stagePlace));
  add(known.has("inverter.powerW"), "total_load_w", ({ usedPowerW }) => usedPowerW);
  const areMetered = loadIds(names).every((id) => known.has(`loads.${id}.powerW`));
  // What a load without a meter has drawn is not known well enough to be taken from the whole.
  const hasBase = known.has("inverter.powerW") && areMetered;
  add(hasBase, "base_load_w", ({ basePowerW }) => basePowerW);
  add(known.has("generatorPowerW"), "generator_power_w", (table) => table.generatorPowerW);
  for (const id of loadIds(names)) {
    add(true, `load_${id}_w`, ({ loads }) => loads.get(id)?.allottedW ?? []);
    add(known.has(`loads.${id}.tankTemperatureC`), `tank_${id}_c`, ({ loads, minutes }) => {
      return loads.get(id)?.tankTemperatureC ?? minutes.map(() => null);
    });
  }
  return columns;
}

function loadIds(names: readonly string[]): string[] {
  const ids = names.flatMap((name) => /^(?:decision[.])?loads[.]([^.]+)[.]/u.exec(name)?.[1] ?? []);
  return [...new Set(ids)].sort();
}

/** What turbines gave is no work of the arrays. */
function arrayPotential({ potentialW, sourcesPowerW, pvPowerW }: DayTable): Column {
  return potentialW.map((value, place) => {
    const ofOthers = (sourcesPowerW[place] ?? 0) - (pvPowerW[place] ?? 0);
    return value === null ? null : Math.max(0, value - Math.max(0, ofOthers));
  });
}

function stagePlace(stage: string | null): number | null {
  const place = CHARGE_STAGES.findIndex((one) => one === stage);
  return place < 0 ? null : place;
}
