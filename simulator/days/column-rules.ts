/**
 * What each column of a day file may hold. The limits are wide: what lies outside is no weather and
 * no shed, but a code for "missing", another unit or another column.
 *
 * All limits: ours, no source.
 */
import { CHARGE_STAGES } from "./day-file.ts";

export interface ColumnRule {
  /** As written in the metadata of a Parquet file; empty for words and yes or no. */
  readonly unit: string;
  readonly min: number;
  readonly max: number;
}

const POWER: ColumnRule = { unit: "W", min: -10_000, max: 1_000_000 };
const TANK: ColumnRule = { unit: "°C", min: -40, max: 150 };

const FIXED_RULES: ReadonlyMap<string, ColumnRule> = new Map(
  Object.entries({
    curtailed: { unit: "", min: 0, max: 1 },
    battery_soc_percent: { unit: "%", min: 0, max: 100 },
    battery_voltage_v: { unit: "V", min: 0, max: 1000 },
    battery_current_a: { unit: "A", min: -5000, max: 5000 },
    battery_temperature_c: { unit: "°C", min: -60, max: 100 },
    charge_stage: { unit: "", min: 0, max: CHARGE_STAGES.length - 1 },
    // Sensors read a little under zero at night, and over the sun's constant beside a cloud.
    ghi_w_m2: { unit: "W/m²", min: -100, max: 2000 },
    dni_w_m2: { unit: "W/m²", min: -100, max: 1500 },
    dhi_w_m2: { unit: "W/m²", min: -100, max: 1500 },
    air_temperature_c: { unit: "°C", min: -90, max: 60 },
    wind_speed_m_s: { unit: "m/s", min: -1, max: 120 },
  }),
);

/** @param column - A column that the day file knows; `time` is none of them. */
export function columnRule(column: string): ColumnRule {
  return FIXED_RULES.get(column) ?? (column.startsWith("tank_") ? TANK : POWER);
}

/** What the writer of a value out of its range has probably done; undefined: nobody knows. */
export function rangeAdvice(column: string, value: number): string | undefined {
  if (isMissingCode(value)) return "a code for a missing value? Leave the field empty";
  if (column === "battery_voltage_v" && value < 0) {
    return "are battery_voltage_v and battery_current_a swapped?";
  }
  if (column === "battery_voltage_v") return "millivolts? Divide by 1000";
  if (column === "battery_soc_percent") return "is it percent, and not another column?";
  if (column.endsWith("_c") && value > 150) return "kelvin? Take away 273.15";
  if (column.endsWith("_w") && value > 1_000_000) return "milliwatts? Divide by 1000";
  return undefined;
}

/** −9999, −7999.9, 9999, −9900: loggers write such things for "no value". */
function isMissingCode(value: number): boolean {
  const size = Math.abs(value);
  return size === 9900 || Math.floor(size) % 1000 === 999;
}
