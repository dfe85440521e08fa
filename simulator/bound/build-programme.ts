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
import type { Line } from "./concave-hull.ts";
import type { BoundStep } from "./bound-step.ts";
import { loadColumns } from "./load-columns.ts";
import type { LoadColumns } from "./load-columns.ts";
import { createProgramme } from "./programme.ts";
import type { Entry, Programme, ProgrammeBuilder } from "./programme.ts";
import { addQuotas } from "./quota-rows.ts";

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
  const powers: (readonly (number | null)[])[] = [];
  const startWh = input.curve.energyWh(input.startFraction);
  let energy = programme.column({ lower: startWh, upper: startWh });
  for (const [t, step] of steps.entries()) {
    const columns = powerColumns(programme, input, step);
    powers.push(columns);
    energy = addBattery(programme, input, { t, before: energy, powers: columns });
    for (const [i, load] of loads.entries()) {
      useful[i]?.push(addLoad(load, step, { index: i, power: columns[i] ?? null }));
    }
  }
  addQuotas(programme, { loads: site.control.loads, steps, powers, stepS: input.stepS });
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

interface BatteryPlace {
  readonly t: number;
  /** Column of the energy at the step's start. */
  readonly before: number;
  readonly powers: readonly (number | null)[];
}

/** @returns the column of the energy at the step's end. */
function addBattery(
  programme: ProgrammeBuilder,
  input: ProgrammeInput,
  place: BatteryPlace,
): number {
  const { curve, steps, lowest } = input;
  const step = steps[place.t];
  const startFraction = place.t === 0 ? input.startFraction : (lowest[place.t - 1] ?? 0);
  const topWh = Math.max(curve.topWh, curve.energyWh(input.startFraction));
  const after = programme.column({
    lower: leastWh(curve, lowest[place.t] ?? 0),
    upper: topWh + curve.slackWh,
  });
  if (step === undefined) return after;
  const { hours, netW } = step;
  const running = place.powers.filter((column) => column !== null);
  const opportunity =
    running.length === 0 ? null : addInverter(programme, input, { step, running, place });
  const drawn = (share: number): Entry[] => (opportunity === null ? [] : [[opportunity, share]]);
  const discharge = curve.dischargeLine(Math.min(0, netW));
  const growth = [{ slope: 1, interceptW: 0 }, discharge];
  if (netW > 0) growth.push(...curve.chargeLines(startFraction, netW));
  if (step.isChargeBlocked) growth.push({ slope: 0, interceptW: 0 });
  for (const { slope, interceptW } of distinct(growth)) {
    const grownWh = hours * (slope * netW + interceptW);
    programme.atMost(grownWh, [[after, 1], [place.before, -1], ...drawn(slope * hours)]);
  }
  const lines = curve.acceptance(startFraction);
  if (netW > 0) addAcceptance(programme, lines, { step, before: place.before, after });
  return after;
}

/** An empty lead-acid battery still gives a little, below what counts as nothing. */
function leastWh(curve: BatteryCurve, fraction: number): number {
  if (fraction <= 0) return -curve.topWh;
  return curve.energyWh(fraction) - curve.slackWh - ROUNDING_WH;
}

/** Exact for each line: the charge nears the line's own end as it would with nothing else. */
function addAcceptance(
  programme: ProgrammeBuilder,
  lines: readonly Line[],
  at: { readonly step: BoundStep; readonly before: number; readonly after: number },
): void {
  for (const { offset, fall } of lines) {
    const left = Math.exp(-fall * at.step.hours);
    programme.atMost((offset / fall) * (1 - left), [
      [at.after, 1],
      [at.before, -left],
    ]);
  }
}

/** The lossless line says nothing that a line with a loss does not, where that begins at 0. */
function distinct<T extends { readonly slope: number; readonly interceptW: number }>(
  lines: readonly T[],
): readonly T[] {
  return lines.filter(
    ({ slope, interceptW }, i) =>
      lines.findIndex((other) => other.slope === slope && other.interceptW === interceptW) === i,
  );
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
