/**
 * A recorded or generated day in memory: one number per column and row, so that a year of minutes
 * is walked without an object per row.
 */
export const FIXED_COLUMNS = [
  "pv_power_w",
  "pv_potential_w",
  "curtailed",
  "battery_soc_percent",
  "battery_voltage_v",
  "battery_current_a",
  "battery_temperature_c",
  "charge_stage",
  "total_load_w",
  "base_load_w",
  "generator_power_w",
  "ghi_w_m2",
  "dni_w_m2",
  "dhi_w_m2",
  "air_temperature_c",
  "wind_speed_m_s",
] as const;

/** Of `pv_potential_w`: what nobody measured. In memory alone, never in a file. [1] 0…1 */
export const INFERRED_COLUMN = "pv_inferred_fraction";

/** `charge_stage` is text in the file and the place in this list in memory. */
export const CHARGE_STAGES = ["bulk", "absorption", "float", "equalise"] as const;

export interface DaySeries {
  /** File name or a name of ours: where a message about this day points. */
  readonly name: string;
  /** Free text of the file's own comment lines. */
  readonly site: string | null;
  readonly source: string | null;
  /** Where it was recorded, if the file says so: sun and local time are then that place's. */
  readonly place: RecordedPlace | null;
  /** Usual distance between two rows. [ms] > 0 */
  readonly stepMs: number;
  /** Start of the interval for which the row's values hold; rising. [ms since 1970, UTC] */
  readonly timesMs: Float64Array;
  /**
   * Local time less UTC, as each row's stamp carries it; absent where nobody wrote a stamp, as in
   * days that are made up: they are written in the place's time, or UTC. [ms]
   */
  readonly utcOffsetsMs?: Float64Array;
  /**
   * By column name; NaN marks an empty field. It never leaves the simulator's arrays: what reads a
   * column decides what an unknown value means.
   */
  readonly columns: ReadonlyMap<string, Float64Array>;
  readonly gaps: readonly Gap[];
  /** Where the next piece of the same file begins; absent: the last row lasts one step. [ms] */
  readonly endMs?: number;
}

export interface Place {
  readonly latitudeDeg: number;
  readonly longitudeDeg: number;
}

export interface RecordedPlace extends Place {
  /** Local time less UTC, as the file's own stamps carry it. [ms] */
  readonly utcOffsetMs: number;
}

/** A hole in the record that is longer than the bridge of `GAP_MAX_MS`. */
export interface Gap {
  readonly fromMs: number;
  readonly toMs: number;
}

/** Longer holes than this are said, and bridged only on request. [ms] */
export const GAP_MAX_MS = 600_000;

/** `load_<id>_w` and `tank_<id>_c`: columns that belong to a load of the site. */
export function isLoadColumn(name: string): boolean {
  return /^load_[a-z0-9-]+_w$/.test(name) || /^tank_[a-z0-9-]+_c$/.test(name);
}
