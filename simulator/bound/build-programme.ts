/**
 * The linear programme whose best is the bound.
 *
 * Everything that the plant does is here in lines that allow a little more: the battery's growth,
 * the inverter's losses, whole stages as any power between. So no controller that keeps the
 * reserve can be better, and the best is no one controller's plan.
 */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { PlantSettings } from "../plant/plant-settings.ts";
import type { BatteryCurve } from "./battery-curve.ts";
import type { BoundStep } from "./bound-step.ts";
import { gassingRows } from "./gassing-rows.ts";
import type { ChargeAt, GassingInput } from "./gassing-rows.ts";
import { growthRows, leastAhead, mostAhead } from "./growth-rows.ts";
import type { GrowthRow } from "./growth-rows.ts";
import { loadColumns } from "./load-columns.ts";
import type { LoadColumns } from "./load-columns.ts";
import { createProgramme } from "./programme.ts";
import type { Entry, Programme, ProgrammeBuilder } from "./programme.ts";
import { quotaRows } from "./quota-rows.ts";

const ROUNDING_WH = 1e-6;

export interface ProgrammeInput {
  readonly site: SiteSettings;
  readonly plant: PlantSettings;
  readonly steps: readonly BoundStep[];
  readonly curve: BatteryCurve;
  /** Least charge at each step's end. [1] 0…1 */
  readonly lowest: Float64Array;
  /** [1] 0…1 */
  readonly startFraction: number;
  /** Of the replay, for what a controller may run over. [s] */
  readonly stepS: number;
}

export interface BoundProgramme {
  readonly programme: Programme;
  /** By load and step: where the useful energy stands, and what one unit of it is. [Wh] */
  readonly useful: readonly (readonly (Entry | null)[])[];
}

export function buildProgramme(input: ProgrammeInput): BoundProgramme {
  const { site, plant, steps } = input;
  const programme = createProgramme();
  const loads = plant.loads.map((load, i) => {
    const ratedW = load.modulating?.maxW ?? load.stagesW.at(-1) ?? 0;
    const surplusC = site.control.loads[i]?.tank?.surplusC ?? null;
    return loadColumns(programme, { load, surplusC, ratedW, stepS: input.stepS });
  });
  const useful: (Entry | null)[][] = loads.map(() => []);
  const battery = batteryRows(input);
  const quotas = quotaRows(programme, { loads: site.control.loads, stepS: input.stepS });
  const startWh = input.curve.energyWh(input.startFraction);
  const { powerMeasure } = input.curve;
  const gassing = powerMeasure === null ? null : gassingRows(programme, powerMeasure);
  let energy: ChargeAt = {
    column: programme.column({ lower: startWh, upper: startWh }),
    leastWh: startWh,
    mostWh: startWh,
  };
  for (const [t, step] of steps.entries()) {
    if (t > 0 && step.localDay !== steps[t - 1]?.localDay) {
      quotas.closeDay();
      programme.cut();
    }
    const columns = powerColumns(programme, input, step);
    quotas.add(step.hours, columns);
    energy = addBattery(programme, input, { t, before: energy, powers: columns, battery, gassing });
    for (const [i, load] of loads.entries()) {
      useful[i]?.push(addLoad(load, step, { index: i, power: columns[i] ?? null }));
    }
  }
  quotas.closeDay();
  return { programme: programme.build(), useful };
}

/** Power that is of use as it flows is worth its energy; what fills a tank or cistern is not. */
function powerColumns(
  programme: ProgrammeBuilder,
  { plant }: ProgrammeInput,
  step: BoundStep,
): readonly (number | null)[] {
  return plant.loads.map(({ tank, pump }, i) => {
    const maxW = step.loads[i]?.maxW ?? 0;
    if (maxW <= 0) return null;
    const isUse = tank === null && pump === null;
    return programme.column({ lower: 0, upper: maxW, worth: isUse ? step.hours : 0 });
  });
}

function addLoad(
  load: LoadColumns,
  step: BoundStep,
  { index, power }: { readonly index: number; readonly power: number | null },
): Entry | null {
  const asked = step.loads[index];
  if (asked === undefined) return null;
  load.add(asked, step.hours, power);
  return load.useful();
}

interface BatteryRows {
  readonly rows: readonly (readonly GrowthRow[])[];
  /** At each step's end. */
  readonly leastWh: Float64Array;
  readonly mostWh: Float64Array;
}

function batteryRows({ steps, curve, lowest, startFraction }: ProgrammeInput): BatteryRows {
  const rows = steps.map((step, t) =>
    growthRows(step, curve, t === 0 ? startFraction : (lowest[t - 1] ?? 0)),
  );
  const leastWh = lowest.map((fraction) => heldWh(curve, fraction));
  const startWh = curve.energyWh(startFraction);
  const topWh = Math.max(curve.topWh, startWh) + curve.slackWh;
  const free = { rows, steps, measure: curve.powerMeasure };
  return {
    rows,
    leastWh: leastAhead(leastWh, rows),
    mostWh: mostAhead(startWh, topWh, free),
  };
}

/** An empty lead-acid battery still gives a little, below what counts as nothing. */
function heldWh(curve: BatteryCurve, fraction: number): number {
  if (fraction <= 0) return -curve.topWh;
  return curve.energyWh(fraction) - curve.slackWh - ROUNDING_WH;
}

interface BatteryPlace {
  readonly t: number;
  /** At the step's start. */
  readonly before: ChargeAt;
  readonly powers: readonly (number | null)[];
  readonly battery: BatteryRows;
  readonly gassing: ((input: GassingInput) => void) | null;
}

/** @returns the energy at the step's end. */
function addBattery(
  programme: ProgrammeBuilder,
  input: ProgrammeInput,
  place: BatteryPlace,
): ChargeAt {
  const { steps } = input;
  const { t, before, battery } = place;
  const leastWh = battery.leastWh[t] ?? 0;
  const mostWh = Math.max(battery.mostWh[t] ?? 0, leastWh);
  const column = programme.column({ lower: leastWh, upper: mostWh });
  const after = { column, leastWh, mostWh };
  const step = steps[t];
  if (step === undefined) return after;
  const running = place.powers.filter((column) => column !== null);
  const drawnW =
    running.length === 0 ? null : addInverter(programme, input, { step, running, place });
  for (const { left, grownWh, drawnShareH } of battery.rows[t] ?? []) {
    const drawn: Entry[] = drawnW === null || drawnShareH === 0 ? [] : [[drawnW, drawnShareH]];
    programme.atMost(grownWh, [[column, 1], [before.column, -left], ...drawn]);
  }
  place.gassing?.({ step, before, after, drawnW });
  return after;
}

interface InverterPlace {
  readonly step: BoundStep;
  readonly running: readonly number[];
  readonly place: BatteryPlace;
}

/** @returns the column of the DC power that the loads cause: never less than these lines. */
function addInverter(
  programme: ProgrammeBuilder,
  { plant, site, steps }: ProgrammeInput,
  { step, running, place }: InverterPlace,
): number {
  const { proportionalLoss, quadraticLoss, continuousW } = plant.inverter;
  const largestW = step.loads.reduce((sum, { maxW }) => sum + maxW, 0);
  const dcPower = programme.column({ lower: 0, upper: Infinity });
  const perW2 = quadraticLoss / continuousW;
  for (const atW of [0, largestW / 2, largestW]) {
    const slope = 1 + proportionalLoss + 2 * perW2 * (step.baseMinW + atW);
    const entries = running.map((column): Entry => [column, slope]);
    programme.atMost(perW2 * atW * atW, [...entries, [dcPower, -1]]);
  }
  if (largestW > step.headroomW) {
    programme.atMost(
      step.headroomW,
      running.map((column): Entry => [column, 1]),
    );
  }
  for (const [p, { feederMaxW }] of site.control.panels.entries()) {
    const members = place.powers.flatMap((column, i): Entry[] =>
      column !== null && plant.loads[i]?.panelIndex === p ? [[column, 1]] : [],
    );
    const sumW = plant.loads.reduce(
      (sum, load, i) => sum + (load.panelIndex === p ? (step.loads[i]?.maxW ?? 0) : 0),
      0,
    );
    if (steps.length > 0 && sumW > feederMaxW) programme.atMost(feederMaxW, members);
  }
  return dcPower;
}
