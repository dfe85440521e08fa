/** What a shed's own meters would have recorded of a run, and what they could not see. */
import { createLocalCalendar } from "../../../config/local-calendar.ts";
import type { SiteSettings } from "../../../config/site-settings.ts";
import { step } from "../../../service/control/step.ts";
import { CHARGE_STAGES } from "../../../simulator/days/day-file.ts";
import type { DaySeries } from "../../../simulator/days/day-file.ts";
import type { OutcomeReport, OutcomeStep } from "../../../simulator/outcome.ts";
import type { PlantSettings } from "../../../simulator/plant/plant-settings.ts";
import { replay } from "../../../simulator/replay.ts";

export interface Run {
  readonly site: SiteSettings;
  readonly days: readonly DaySeries[];
  /** null: as the settings say. */
  readonly plant: PlantSettings | null;
}

export function replayed(run: Run, onStep: ((step: OutcomeStep) => void) | null = null) {
  return replay({
    ...run,
    step,
    calendar: createLocalCalendar(run.site.timeZone),
    stepS: 60,
    startFraction: 0.8,
    mayBridge: false,
    onDecision: null,
    onStep,
  }) satisfies OutcomeReport;
}

export interface Recorded {
  readonly series: DaySeries;
  /** What the arrays could have given, row by row. [W] */
  readonly truthW: Float64Array;
}

export function throttledRecord(run: Run): Recorded {
  const names = [
    "battery_soc_percent",
    ...["pv_power_w", "battery_voltage_v", "battery_current_a", "charge_stage", "total_load_w"],
    ...run.site.control.loads.map(({ id }) => `load_${id}_w`),
  ];
  const rows: (readonly number[])[] = [];
  const timesMs: number[] = [];
  const truthW: number[] = [];
  replayed(run, ({ wallMs, truth }) => {
    timesMs.push(wallMs);
    truthW.push(truth.sunPotentialW);
    rows.push([
      100 * truth.socFraction,
      truth.arrayDeliveredW.reduce((sum, powerW) => sum + powerW, 0),
      truth.batteryVoltageV,
      truth.batteryCurrentA,
      CHARGE_STAGES.indexOf(truth.chargeStage),
      truth.inverterAcW,
      ...truth.loadPowerW,
    ]);
  });
  const column = (index: number): Float64Array => Float64Array.from(rows, (row) => row[index] ?? 0);
  const series: DaySeries = {
    name: "recorded.csv",
    site: null,
    source: null,
    place: null,
    stepMs: 60_000,
    timesMs: Float64Array.from(timesMs),
    columns: new Map(names.map((name, index) => [name, column(index)])),
    gaps: [],
  };
  return { series, truthW: Float64Array.from(truthW) };
}
