/**
 * Which rows of a recording tell what the arrays could give: their power is that unless something
 * held them back. In doubt a row is none of them.
 */
import type { SiteSettings } from "../../config/site-settings.ts";
import { CHARGE_STAGES } from "../days/day-file.ts";
import type { DaySeries } from "../days/day-file.ts";

const BULK = CHARGE_STAGES.indexOf("bulk");
/** After a generator stopped, its voltage may still hold the arrays back. [ms] */
const AFTER_GENERATOR_MS = 600_000;
/** Within this of the set-point it may be held there. [V for each V of the set-point] */
const NEAR_SETPOINT = 0.004;
const REFERENCE_C = 25;
/** A battery may be full from here on, as its monitor counts. [%] ours, no source */
const FULL_PERCENT = 97;
/** Lithium cells refuse charge at frost, and for a while above it. [°C] CHECKS BA-8 */
const COLD_C = 5;

/**
 * The battery gives under the float set-point, so no controller holds back; or it takes, and all
 * neighbouring rows are in bulk, under the absorption set-point. Where the file tells of neither,
 * its own `curtailed` is believed.
 *
 * @returns 1 for each certain row; null if the file has nothing to tell it by.
 */
export function certainRows(series: DaySeries, site: SiteSettings): Uint8Array | null {
  const { columns, timesMs } = series;
  const voltageV = columns.get("battery_voltage_v");
  const currentA = columns.get("battery_current_a");
  const stage = columns.get("charge_stage");
  const curtailed = columns.get("curtailed");
  const generatorW = columns.get("generator_power_w");
  const { toleranceW, absorptionVoltageV, floatVoltageV } = site.control.battery;
  const certain = new Uint8Array(timesMs.length);
  if (stage === undefined && (voltageV === undefined || currentA === undefined)) {
    if (curtailed === undefined) return null;
    return certain.map((_, row) => (curtailed[row] === 0 ? 1 : 0));
  }
  let generatorMs = Number.NEGATIVE_INFINITY;
  for (let row = 0; row < certain.length; row += 1) {
    const atMs = timesMs[row] ?? 0;
    if ((generatorW?.[row] ?? 0) > 0) generatorMs = atMs;
    if (atMs - generatorMs < AFTER_GENERATOR_MS) continue;
    const takenW = (voltageV?.[row] ?? NaN) * (currentA?.[row] ?? NaN);
    const busV = voltageV?.[row] ?? NaN;
    const shiftV = compensationV(columns, row, site);
    const isOpen = isBulkAround(stage, row) && isUnder(absorptionVoltageV + shiftV, busV);
    // When absorption ends the battery stands above the float set-point, and gives for a while.
    const isGiving = takenW < -toleranceW && isUnder(floatVoltageV + shiftV, busV);
    const isRefusing = Math.abs(takenW) <= toleranceW && mayRefuse(columns, row);
    certain[row] = isGiving || (isOpen && !isRefusing) ? 1 : 0;
  }
  return certain;
}

/** A row is a mean: bulk may have ended within it. */
function isBulkAround(stage: Float64Array | undefined, row: number): boolean {
  if (stage?.[row] !== BULK) return false;
  const before = stage[row - 1] ?? BULK;
  const after = stage[row + 1] ?? BULK;
  return before === BULK && after === BULK;
}

/** Full or too cold it takes nothing under any set-point; in doubt it may be so. */
function mayRefuse(columns: DaySeries["columns"], row: number): boolean {
  const socPercent = columns.get("battery_soc_percent")?.[row] ?? NaN;
  const temperatureC = columns.get("battery_temperature_c")?.[row] ?? NaN;
  return !(socPercent < FULL_PERCENT) || temperatureC < COLD_C;
}

/** How far a set-point moves with the battery's temperature. [V] */
function compensationV(columns: DaySeries["columns"], row: number, site: SiteSettings): number {
  const recordedC = columns.get("battery_temperature_c")?.[row] ?? NaN;
  const temperatureC = Number.isNaN(recordedC) ? REFERENCE_C : recordedC;
  return site.control.battery.compensationVPerK * (temperatureC - REFERENCE_C);
}

/** What is not known is no reason to doubt. */
function isUnder(setPointV: number, voltageV: number): boolean {
  return Number.isNaN(voltageV) || voltageV < setPointV * (1 - NEAR_SETPOINT);
}
