/**
 * Runs the daemon's own decision function against the simulated shed over recorded or generated
 * days. Actuators obey at once and report their stage at the next step.
 */
import type { LocalCalendar } from "../config/local-calendar.ts";
import type { SiteSettings } from "../config/site-settings.ts";
import type { Decision } from "../service/control/decision.ts";
import { initialMemory } from "../service/control/memory.ts";
import type { Observation } from "../service/control/observation.ts";
import type { Step } from "../service/control/step.ts";
import type { DaySeries, Place } from "./days/day-file.ts";
import { dayFeed } from "./feed.ts";
import type { DayFeed } from "./feed.ts";
import { createObserver } from "./observe.ts";
import { createOutcome } from "./outcome.ts";
import type { Outcome, OutcomeReport, OutcomeStep } from "./outcome.ts";
import { recordedCalendar } from "./recorded-calendar.ts";
import { createPlant } from "./plant/plant.ts";
import { emptyInput, fillInput } from "./plant-input.ts";
import type { ReferenceOf, ReferenceRun } from "./kept-references.ts";
import { createReference } from "./reference.ts";
import { plantSettings } from "./plant/plant-settings.ts";
import type { PlantSettings } from "./plant/plant-settings.ts";

export interface ReplayOptions {
  readonly site: SiteSettings;
  /** Rising in time; read one by one, so that a year need not fit in memory. */
  readonly days: Iterable<DaySeries>;
  readonly step: Step;
  readonly calendar: LocalCalendar;
  /** Days with rows closer than this are run at their own distance. [s] 1…60 */
  readonly stepS: number;
  /** State of charge to begin with. [1] 0…1 */
  readonly startFraction: number;
  readonly mayBridge: boolean;
  /** null: the shed that belongs to the site's settings. */
  readonly plant: PlantSettings | null;
  /**
   * Called at every step with what was decided; the observation is filled again at the next one.
   * null: nobody listens.
   */
  readonly onDecision: ((decision: Decision, observation: Observation) => void) | null;
  /** For several runs over the same days: what they have in common. Absent: nothing is kept. */
  readonly kept?: KeptBetweenRuns;
  /** Called after every step with what came of it; the same object is filled again at the next. */
  readonly onStep?: ((step: OutcomeStep) => void) | null;
}

export interface KeptBetweenRuns {
  readonly feedOf: typeof dayFeed;
  readonly referenceOf: ReferenceOf;
}

/** @throws UserError if a day cannot be replayed. */
export function replay(options: ReplayOptions): OutcomeReport {
  const { site } = options;
  const settings = options.plant ?? plantSettings(site);
  const sitePlace = {
    latitudeDeg: site.control.latitudeDeg,
    longitudeDeg: site.control.longitudeDeg,
  };
  const run = createRun(options, settings);
  const feedOf = options.kept?.feedOf ?? dayFeed;
  let outcome: Outcome | null = null;
  for (const series of options.days) {
    const feed = feedOf(series, { plant: settings, sitePlace, mayBridge: options.mayBridge });
    outcome ??= createOutcome(site, settings, feed.place);
    run(feed, outcome);
  }
  return (outcome ?? createOutcome(site, settings, sitePlace)).report();
}

/**
 * Where the run's own clock begins: anywhere would do. Below 2³¹ engines keep whole numbers in
 * another form, and all that they have made fast would be made slow once, after 25 days. [ms]
 */
const ORIGIN_MS = 2 ** 40;

type Writable<T> = { -readonly [K in keyof T]: T[K] };

function isSamePlace(control: Place, place: Place): boolean {
  const { latitudeDeg, longitudeDeg } = place;
  return control.latitudeDeg === latitudeDeg && control.longitudeDeg === longitudeDeg;
}

function startReference(options: ReplayOptions, settings: PlantSettings): ReferenceRun {
  const { site, startFraction, stepS, mayBridge } = options;
  const { battery, latitudeDeg, longitudeDeg } = site.control;
  const { sunsetTargetFraction } = battery;
  const sitePlace = { latitudeDeg, longitudeDeg };
  const days = { timeZone: site.timeZone, sitePlace, stepS, mayBridge };
  const referenceOf = options.kept?.referenceOf ?? createReference;
  return referenceOf({ settings, startFraction, sunsetTargetFraction }, days);
}

type Run = (feed: DayFeed, outcome: Outcome) => void;

function createRun(options: ReplayOptions, settings: PlantSettings): Run {
  const { site, step } = options;
  const plant = createPlant(settings, options.startFraction);
  const input = emptyInput(settings);
  const observe = createObserver(site, plant.truth);
  const reference = startReference(options, settings);
  // One object for the whole run: made anew at each step it would cost as much as the shed.
  const done: Writable<OutcomeStep> = {
    dtS: options.stepS,
    wallMs: 0,
    localDay: 0,
    localMinute: 0,
    truth: plant.truth,
    decision: { loadStages: [], site: { ruleCurveFraction: 0 }, verdicts: [] },
    reference: reference.truth,
    inferredFraction: 0,
  };
  // The controller, too, has to know whose sun it is; by this very object it keeps a day's sun.
  let { control } = site;
  let memory = initialMemory(site.control, ORIGIN_MS);
  let monotonicMs = ORIGIN_MS;
  return (feed, outcome) => {
    const calendar = recordedCalendar(feed.utcOffsets, options.calendar);
    if (!isSamePlace(control, feed.place)) control = { ...site.control, ...feed.place };
    // A longer step than the record's would pass rows by, and their energy with them.
    const stepS = Math.min(options.stepS, feed.stepMs / 1000);
    let row = 0;
    let isFirst = true;
    const startMs = feed.timesMs[0] ?? 0;
    for (let wallMs = startMs; wallMs < feed.endMs; wallMs += stepS * 1000) {
      while ((feed.timesMs[row + 1] ?? Infinity) <= wallMs) row += 1;
      const { localDay, localMinute, clockChangeMs, clockShiftMin } = calendar(wallMs);
      fillInput(feed, row, input);
      input.localMinute = localMinute;
      // The bus at the first instant, so that the first observation is not of a shed without sun.
      if (isFirst) plant.step(0, input);
      isFirst = false;
      const now = { monotonicMs, wallMs, localDay, localMinute, clockChangeMs, clockShiftMin };
      const observation = observe(now);
      const { memory: after, decision } = step(memory, observation, control);
      memory = after;
      options.onDecision?.(decision, observation);
      done.dtS = stepS;
      done.wallMs = wallMs;
      done.localDay = localDay;
      done.localMinute = localMinute;
      done.decision = decision;
      done.inferredFraction = feed.inferredFraction?.[row] ?? 0;
      reference.step(input, done, feed.place);
      input.loadStages = decision.loadStages;
      input.loadPowersW = decision.loadPowersW;
      input.panelsClosed = decision.panelsClosed;
      plant.step(stepS, input);
      outcome.add(done);
      reference.settle();
      options.onStep?.(done);
      monotonicMs += stepS * 1000;
    }
  };
}
