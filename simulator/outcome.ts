/**
 * What a stretch of simulated time amounted to: the figures that `replay --json` and `demo --json`
 * print. It is fed step by step with what was true and what was decided, whoever made them.
 */
import type { SiteSettings } from "../config/site-settings.ts";
import type { Verdict } from "../service/control/decision.ts";
import { createAbsorptionDays } from "./absorption-days.ts";
import type { AbsorptionDays } from "./absorption-days.ts";
import type { BoundFigures, ReconstructedRange } from "./compared-figures.ts";
import type { Place } from "./days/day-file.ts";
import { createLoadLedger } from "./load-ledger.ts";
import type { LoadFigures } from "./load-ledger.ts";
import type { PlantSettings } from "./plant/plant-settings.ts";
import type { PlantTruth } from "./plant/plant-truth.ts";
import { roundFigures } from "./rounding.ts";
import { createSunsetWatch } from "./sunset-watch.ts";
import type { SunsetStep } from "./sunset-watch.ts";
import { createUnusedLedger } from "./unused-ledger.ts";
import type { UnusedFigures } from "./unused-ledger.ts";

export interface Totals {
  /** AC energy that opportunity loads took. */
  divertedWh: number;
  /**
   * The part of it that was of use: heat that served a draw or kept usable water usable; all of
   * it for loads without a tank. On a single day this may be heat diverted on the day before.
   */
  usefulDivertedWh: number;
  /** The sources could have given it, but nobody took it. */
  curtailedWh: number;
  potentialWh: number;
  baseLoadWh: number;
  /** Everyday use that went without. */
  unservedWh: number;
  /** What the battery gave at its terminals. */
  batteryThroughputWh: number;
  minSocPercent: number;
  endSocPercent: number;
  generatorWh: number;
  /**
   * Discharge that opportunity loads caused below what the rule curve allows: the smaller of their
   * DC power and the battery's discharge, while the true state of charge is under the rule curve
   * less that load's stop margin. The stop's own dwell is in it: it counts from the first second.
   */
  reserveDrawnWh: number;
  /**
   * Days with less charge than the floor and than the shed without these loads would have had;
   * where that is not simulated beside it, days on which a load ran on the battery below the floor.
   */
  reserveDays: number;
  /** Days that ended under the sunset target and need not have, if that is known. */
  sunsetMisses: number;
  /** Days beyond the longest time without a full charge, which need not have been, if known. */
  absorptionMisses: number;
  starts: number;
  /** Share of the potential that was not measured but inferred from a throttled record. */
  reconstructedFraction: number;
  boundShareFraction: number | null;
  regretWh: number | null;
}

export interface DayTotals extends Totals {
  /** Local calendar date. */
  readonly date: string;
}

export interface OutcomeReport {
  readonly formatVersion: 1;
  readonly days: number;
  readonly plant: PlantSettings;
  readonly settings: { readonly site: string; readonly control: SiteSettings["control"] };
  readonly totals: Totals;
  readonly loads: Readonly<Record<string, LoadFigures>>;
  readonly bound: BoundFigures | null;
  /** null: everything that counts was measured, or was given as such. */
  readonly range: ReconstructedRange | null;
  /** What of `curtailedWh` a load would have taken, and why it did not. */
  readonly unused: UnusedFigures;
  readonly perDay: readonly DayTotals[];
}

/** What the books want to know of a decision; a core's own decision is one. */
export interface Decided {
  readonly loadStages: readonly number[];
  readonly site: { readonly ruleCurveFraction: number };
  /** On each load. */
  readonly verdicts: readonly Pick<Verdict, "code">[];
}

export interface OutcomeStep extends SunsetStep {
  readonly truth: PlantTruth;
  readonly decision: Decided;
  /** The shed without these loads; null: nobody simulates it. */
  readonly reference: Pick<PlantTruth, "socFraction" | "absorptionsCompleted"> | null;
  /** Of what the arrays could have given: not measured, but inferred. [1] 0…1 */
  readonly inferredFraction: number;
}

export interface Outcome {
  add(step: OutcomeStep): void;
  /** May be asked at any time. */
  report(): OutcomeReport;
}

interface Book {
  readonly site: SiteSettings;
  readonly days: DayTotals[];
  today: DayTotals | null;
  day: number;
  isReserveDay: boolean;
  /** Of today's potential. [Wh] */
  inferredWh: number;
  readonly isSunset: (step: SunsetStep) => boolean;
  readonly absorptions: AbsorptionDays;
  readonly referenceAbsorptions: AbsorptionDays;
}

const DAY_MS = 86_400_000;
/** Of the two runs' states of charge, less is rounding and the shape of a cloud. [1] */
const SAME_WITHIN = 0.001;

/** @param place - Where sunset is reckoned: the recording's place or the site's. */
export function createOutcome(site: SiteSettings, plant: PlantSettings, place: Place): Outcome {
  const ledger = createLoadLedger(site.control.loads.map((load) => load.id));
  const unused = createUnusedLedger(site.control);
  const book: Book = {
    site,
    days: [],
    today: null,
    day: Number.NEGATIVE_INFINITY,
    isReserveDay: false,
    inferredWh: 0,
    isSunset: createSunsetWatch(place),
    absorptions: createAbsorptionDays(site.control.battery.fullChargeEveryDays),
    referenceAbsorptions: createAbsorptionDays(site.control.battery.fullChargeEveryDays),
  };
  return {
    add(step) {
      if (step.localDay !== book.day) openDay(book, step);
      const today = book.today;
      if (today === null) return;
      addEnergy(today, step);
      addInferred(book, today, step);
      addReserve(book, today, step);
      addSunset(book, today, step);
      addAbsorption(book, step);
      today.starts += ledger.add(step.dtS, step.truth, step.decision.loadStages);
      unused.add(step.dtS, step.truth, step.decision);
    },
    report() {
      return roundFigures({
        formatVersion: 1,
        days: book.days.length,
        plant,
        settings: { site: site.id, control: site.control },
        totals: sumTotals(book.days),
        loads: ledger.figures(),
        bound: null,
        range: null,
        unused: unused.figures(),
        perDay: book.days,
      } satisfies OutcomeReport);
    },
  };
}

function openDay(book: Book, step: OutcomeStep): void {
  book.day = step.localDay;
  book.isReserveDay = false;
  book.inferredWh = 0;
  const date = new Date(step.localDay * DAY_MS).toISOString().slice(0, 10);
  book.today = { date, ...emptyTotals() };
  book.days.push(book.today);
  const isOverdue = book.absorptions.open(step.localDay);
  const isOverdueAnyway = book.referenceAbsorptions.open(step.localDay);
  if (isOverdue && !(isOverdueAnyway && step.reference !== null)) book.today.absorptionMisses = 1;
}

function addEnergy(today: Totals, step: OutcomeStep): void {
  const { truth } = step;
  const stepH = step.dtS / 3600;
  today.potentialWh += truth.potentialW * stepH;
  today.curtailedWh += Math.max(0, truth.potentialW - truth.deliveredW) * stepH;
  today.baseLoadWh += truth.baseAcW * stepH;
  today.unservedWh += truth.unservedW * stepH;
  today.generatorWh += truth.generatorW * stepH;
  today.batteryThroughputWh += Math.max(0, -truth.batteryPowerW) * stepH;
  for (let i = 0; i < truth.loadPowerW.length; i += 1) {
    today.divertedWh += (truth.loadPowerW[i] ?? 0) * stepH;
    today.usefulDivertedWh += (truth.loadUsefulW[i] ?? 0) * stepH;
  }
  const socPercent = truth.socFraction * 100;
  today.minSocPercent = Math.min(today.minSocPercent, socPercent);
  today.endSocPercent = socPercent;
}

function addInferred(book: Book, today: Totals, step: OutcomeStep): void {
  book.inferredWh += (step.inferredFraction * step.truth.sunPotentialW * step.dtS) / 3600;
  if (book.inferredWh > 0) today.reconstructedFraction = book.inferredWh / today.potentialWh;
}

function addReserve(book: Book, today: Totals, step: OutcomeStep): void {
  addReserveDay(book, today, step);
  const { truth, decision } = step;
  const dischargeW = Math.max(0, -truth.batteryPowerW);
  if (dischargeW === 0 || truth.opportunityDcW === 0) return;
  const { loads } = book.site.control;
  const allAcW = truth.loadPowerW.reduce((sum, powerW) => sum + powerW, 0);
  let belowAcW = 0;
  for (let i = 0; i < loads.length; i += 1) {
    const marginFraction = loads[i]?.stopBelowFraction ?? 0;
    const stopFraction = decision.site.ruleCurveFraction - marginFraction;
    if (truth.socFraction < stopFraction) belowAcW += truth.loadPowerW[i] ?? 0;
  }
  const belowDcW = allAcW > 0 ? (truth.opportunityDcW * belowAcW) / allAcW : 0;
  today.reserveDrawnWh += (Math.min(belowDcW, dischargeW) * step.dtS) / 3600;
}

function addReserveDay(book: Book, today: Totals, step: OutcomeStep): void {
  const { truth, reference } = step;
  const { floorFraction } = book.site.control.battery;
  if (book.isReserveDay || truth.socFraction >= floorFraction) return;
  const isTheirs =
    reference === null
      ? truth.batteryPowerW < 0 && truth.opportunityDcW > 0
      : truth.socFraction < reference.socFraction - SAME_WITHIN;
  if (!isTheirs) return;
  book.isReserveDay = true;
  today.reserveDays += 1;
}

function addSunset(book: Book, today: Totals, step: OutcomeStep): void {
  if (!book.isSunset(step)) return;
  const target = book.site.control.battery.sunsetTargetFraction;
  const couldBeReached = step.reference === null || step.reference.socFraction >= target;
  if (couldBeReached && step.truth.socFraction < target) today.sunsetMisses += 1;
}

function addAbsorption(book: Book, { truth, reference }: OutcomeStep): void {
  book.absorptions.add(truth.absorptionsCompleted);
  if (reference !== null) book.referenceAbsorptions.add(reference.absorptionsCompleted);
}

function emptyTotals(): Totals {
  return {
    divertedWh: 0,
    usefulDivertedWh: 0,
    curtailedWh: 0,
    potentialWh: 0,
    baseLoadWh: 0,
    unservedWh: 0,
    batteryThroughputWh: 0,
    minSocPercent: 100,
    endSocPercent: 0,
    generatorWh: 0,
    reserveDrawnWh: 0,
    reserveDays: 0,
    sunsetMisses: 0,
    absorptionMisses: 0,
    starts: 0,
    reconstructedFraction: 0,
    boundShareFraction: null,
    regretWh: null,
  };
}

const SUMMED = [
  "divertedWh",
  "usefulDivertedWh",
  "curtailedWh",
  "potentialWh",
  "baseLoadWh",
  "unservedWh",
  "batteryThroughputWh",
  "generatorWh",
  "reserveDrawnWh",
  "reserveDays",
  "sunsetMisses",
  "absorptionMisses",
  "starts",
] as const satisfies readonly (keyof Totals)[];

function sumTotals(days: readonly DayTotals[]): Totals {
  const totals = emptyTotals();
  let inferredWh = 0;
  for (const day of days) {
    for (const key of SUMMED) totals[key] += day[key];
    inferredWh += day.reconstructedFraction * day.potentialWh;
    totals.minSocPercent = Math.min(totals.minSocPercent, day.minSocPercent);
    totals.endSocPercent = day.endSocPercent;
  }
  if (inferredWh > 0) totals.reconstructedFraction = inferredWh / totals.potentialWh;
  return totals;
}
