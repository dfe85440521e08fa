/**
 * A simulated shed in its own time: days follow one another, and the plant, moved by the rig, eats
 * their weather and household. Keeps the books of what happened, for the same report as a replay.
 */
import type { LocalCalendar } from "../config/local-calendar.ts";
import type { SiteSettings } from "../config/site-settings.ts";
import { UserError } from "../service/errors.ts";
import type { Positions } from "./actuators.ts";
import { GAP_MAX_MS } from "./days/day-file.ts";
import type { DaySeries } from "./days/day-file.ts";
import { dayFeed, gapError } from "./feed.ts";
import type { DayFeed } from "./feed.ts";
import { createOutcome } from "./outcome.ts";
import type { Decided, OutcomeReport } from "./outcome.ts";
import { emptyInput, fillInput } from "./plant-input.ts";
import { createPlantSide } from "./plant-side.ts";
import { createPlant } from "./plant/plant.ts";
import { plantSettings } from "./plant/plant-settings.ts";
import { recordedCalendar } from "./recorded-calendar.ts";
import type { PlantSide } from "./rig.ts";

export interface ShedOptions {
  readonly site: SiteSettings;
  /** One after the other without a hole between them; read one by one. */
  readonly days: Iterable<DaySeries>;
  /** The site's own. */
  readonly calendar: LocalCalendar;
  /** State of charge to begin with. [1] 0…1 */
  readonly startFraction: number;
  /** The last value is held across holes of the record; without this they are refused. */
  readonly mayBridge: boolean;
  /** What the controller has decided last; null before its first word. */
  readonly lastDecision: () => Decided | null;
}

export interface Shed {
  readonly plantSide: PlantSide;
  /** First instant of the first day. [ms since 1970-01-01T00:00:00Z] */
  readonly startWallMs: number;
  /** Whose sun and clock the days follow: the site's, or those a recording brings. */
  readonly place: { readonly latitudeDeg: number; readonly longitudeDeg: number };
  readonly calendar: LocalCalendar;
  /** Local time less UTC by the recording's own stamps; null: the site's zone. [ms] */
  utcOffsetMsAt(elapsedMs: number): number | null;
  /** Whether the record reaches over `elapsedMs` of simulated time. */
  hasWeatherAt(elapsedMs: number): boolean;
  report(): OutcomeReport;
}

/** @throws UserError if there is no day, or one that cannot be replayed. */
export function createShed(options: ShedOptions): Shed {
  const { site } = options;
  const settings = plantSettings(site);
  const days = createDays(options, settings);
  const { startWallMs, calendar } = days;
  const plant = createPlant(settings, options.startFraction);
  const outcome = createOutcome(site, settings, days.place);
  const input = emptyInput(settings);
  let elapsedMs = 0;

  const inputFor = (positions: Positions): typeof input => {
    days.fill(startWallMs + elapsedMs, input);
    input.localMinute = calendar(startWallMs + elapsedMs).localMinute;
    input.loadStages = positions.loadStages;
    input.loadPowersW = positions.loadPowersW;
    input.panelsClosed = positions.panelsClosed;
    return input;
  };
  const bare = createPlantSide({
    control: site.control,
    plant,
    inputFor: (_dtMs, positions) => inputFor(positions),
  });
  return {
    startWallMs,
    place: days.place,
    calendar,
    utcOffsetMsAt: (atMs) => days.utcOffsetMsAt(startWallMs + atMs),
    hasWeatherAt: (atMs) => days.reaches(startWallMs + atMs),
    report: () => outcome.report(),
    plantSide: {
      read: bare.read,
      advance(dtMs, positions) {
        bare.advance(dtMs, positions);
        const decision = options.lastDecision();
        if (dtMs > 0 && decision !== null) {
          const wallMs = startWallMs + elapsedMs;
          const { truth } = plant;
          const at = { dtS: dtMs / 1000, wallMs, ...calendar(wallMs) };
          outcome.add({ ...at, truth, decision, reference: null, inferredFraction: 0 });
        }
        elapsedMs += dtMs;
      },
    },
  };
}

interface Days {
  readonly startWallMs: number;
  readonly place: Shed["place"];
  readonly calendar: LocalCalendar;
  utcOffsetMsAt(wallMs: number): number | null;
  reaches(wallMs: number): boolean;
  fill(wallMs: number, input: ReturnType<typeof emptyInput>): void;
}

function createDays(options: ShedOptions, settings: ReturnType<typeof plantSettings>): Days {
  const { site, mayBridge } = options;
  const { latitudeDeg, longitudeDeg } = site.control;
  const iterator = options.days[Symbol.iterator]();
  let endMs: number | null = null;
  const nextFeed = (): DayFeed | null => {
    const next = iterator.next();
    if (next.done === true) return null;
    const sitePlace = { latitudeDeg, longitudeDeg };
    const feed = dayFeed(next.value, { plant: settings, sitePlace, mayBridge });
    const startMs = feed.timesMs[0] ?? 0;
    // Time goes on in a shed: it cannot leap from one day to another, as a replay's may.
    if (!mayBridge && endMs !== null && startMs - endMs > GAP_MAX_MS) {
      throw gapError(feed.name, "no rows", { fromMs: endMs, toMs: startMs });
    }
    endMs = feed.endMs;
    return feed;
  };
  const first = nextFeed();
  if (first === null) {
    throw new UserError([{ code: "no-days", where: "days", expected: "at least one day" }]);
  }
  const offsets = first.utcOffsets === null ? null : [...first.utcOffsets];
  let feed = first;
  let row = 0;
  let isOver = false;

  /** Moves on to the day and row of `wallMs`; the last row is held where the record has ended. */
  const seek = (wallMs: number): void => {
    while (!isOver && wallMs >= feed.endMs) {
      const next = nextFeed();
      if (next === null) isOver = true;
      else {
        feed = next;
        row = 0;
        // Each day brings its own stamps: the clock of the days so far goes on by them.
        if (next.utcOffsets !== null) offsets?.push(...next.utcOffsets);
      }
    }
    while ((feed.timesMs[row + 1] ?? Infinity) <= wallMs) row += 1;
  };
  return {
    startWallMs: first.timesMs[0] ?? 0,
    place: first.place,
    calendar: recordedCalendar(offsets, options.calendar),
    utcOffsetMsAt(wallMs) {
      seek(wallMs);
      return offsets?.findLast(({ fromMs }) => fromMs <= wallMs)?.offsetMs ?? null;
    },
    reaches(wallMs) {
      seek(wallMs);
      return !isOver;
    },
    fill(wallMs, input) {
      seek(wallMs);
      fillInput(feed, row, input);
    },
  };
}
