/**
 * One recorded day in the simulated shed: once with the settings as they are, once with a change,
 * and either for a low, a likely and a high guess of what a full battery hid.
 */
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { loadSite } from "../../config/load.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { writeDayCsv } from "../../simulator/days/write-csv.ts";
import type { OutcomeReport } from "../../simulator/outcome.ts";
import { certainRows } from "../../simulator/reconstruct/certain-rows.ts";
import { isThrottled, reconstructDays } from "../../simulator/reconstruct/reconstruct-days.ts";
import { replay } from "../../simulator/replay.ts";
import { roundFigures } from "../../simulator/rounding.ts";
import { UserError } from "../errors.ts";
import type { SavedMemory } from "../history/memory-file.ts";
import { dayText } from "../local-days.ts";
import { timestamp } from "../timestamp.ts";
import type { Guesses, ReplayedDay, WhatIfChange } from "../what-if-contract.ts";
import type { DayOrder, WhatIfProgress, WhatIfResult } from "../what-if-contract.ts";
import { memoryAtStart, stepFrom } from "./what-if-memory.ts";
import { notesOn } from "./what-if-notes.ts";
import { createReplayRecord } from "./what-if-record.ts";
import { recordedAround } from "./what-if-recorded.ts";
import type { Recorded } from "./what-if-recorded.ts";
import { arrayRatio, firstKnown, refuseWind, shedOf, withArrays } from "./what-if-shed.ts";

/** What a recorded day cannot answer, or what only the machine's owner changes by hand. */
const NOT_HERE = /^(version|site|web|broker|history|telemetry)\b/u;
/** As of `replay` without a word about it. [1] */
const USUAL_START = 0.8;
/** More than this was not recorded: what it was like nobody knows. [ms] ours, no source */
const HOLES_MAX_MS = 7_200_000;
const PERCENT = 100;
const STEP_S = 60;

/** @throws UserError for mistakes in the settings or the change, and a day that does not tell. */
export function whatIf(
  order: Extract<DayOrder, { readonly kind: "what-if" }>,
  tell: (progress: WhatIfProgress) => void,
): WhatIfResult {
  const { path, overrides, localDay, changes } = order;
  const site = loadSite({ path, overrides });
  const changed = changedSite(order);
  refuseWind(site);
  refuseWind(changed);
  const ratio = arrayRatio(site, changed);
  tell({ stage: "reading", share: 0 });
  const recorded = recordedAround(site, localDay);
  refuseHoles(recorded, localDay);
  tell({ stage: "inferring", share: 0.2 });
  const skies = skiesOf(recorded, site);
  const date = dayText(localDay);
  const saved = memoryAtStart(site.history.folder, date);
  const runs = { recorded, saved, count: 0, tell };
  const asSet = replayed(runs, site, [skies.likely, skies.low, skies.high]);
  const scaled = [skies.likely, skies.low, skies.high].map((sky) => withArrays(sky, ratio));
  const other = replayed(runs, changed, scaled);
  const { reconstructedFraction } = asSet.reports.likely.totals;
  const about = { holesMs: recorded.holesMs, hasMemory: saved !== null, ratio };
  return {
    date,
    from: timestamp(recorded.stretch.fromMs),
    to: timestamp(recorded.stretch.toMs),
    changes,
    asSet: asSet.day,
    changed: other.day,
    more: {
      divertedWh: more(asSet, other, "divertedWh"),
      curtailedWh: more(asSet, other, "curtailedWh"),
    },
    reconstructedFraction,
    notes: notesOn({ ...about, site, hasSoc: socAtStart(recorded.day) !== null }),
  };
}

/** The day alone as a day file; where the site is stands in none of it, as on the page. */
export function dayFileText({ path, overrides, localDay }: Omit<DayOrder, "kind">): string {
  const site = loadSite({ path, overrides });
  const { day } = recordedAround(site, localDay, true);
  return writeDayCsv({ ...day, place: null });
}

function changedSite(order: Pick<DayOrder, "path" | "overrides"> & Changes): SiteSettings {
  const { path, overrides, changes } = order;
  const wrong = changes.find(({ key }) => NOT_HERE.test(key));
  if (wrong !== undefined) {
    const expected = "a key of battery, arrays, inverter, ruleCurve, panels or loads";
    throw new UserError([{ code: "what-if-key", where: "what-if", key: wrong.key, expected }]);
  }
  const more = changes.map(({ key, value }) => `${key}=${value}`);
  return loadSite({ path, overrides: [...overrides, ...more] });
}

interface Changes {
  readonly changes: readonly WhatIfChange[];
}

function refuseHoles({ holesMs }: Recorded, localDay: number): void {
  if (holesMs <= HOLES_MAX_MS) return;
  throw new UserError([
    {
      code: "day-gap",
      where: dayText(localDay),
      found: `${String(Math.round(holesMs / 60_000))} min that were not recorded`,
      expected: "a day with holes of two hours at most",
    },
  ]);
}

type Skies = Readonly<Record<keyof Guesses, DaySeries>>;

/** A day that was never throttled, or has no arrays, is as it was recorded. */
function skiesOf({ day, around }: Recorded, site: SiteSettings): Skies {
  if (!isThrottled(day)) return { low: day, likely: day, high: day };
  const telling = around.filter((one) => one === day || certainRows(one, site) !== null);
  const place = telling.indexOf(day);
  const { low, middle, high } = reconstructDays(telling, site);
  return {
    low: low[place] ?? day,
    likely: middle[place] ?? day,
    high: high[place] ?? day,
  };
}

interface Runs {
  readonly recorded: Recorded;
  readonly saved: SavedMemory | null;
  readonly tell: (progress: WhatIfProgress) => void;
  /** Replays that are done. */
  count: number;
}

interface Replayed {
  readonly day: ReplayedDay;
  readonly reports: Readonly<Record<keyof Guesses, OutcomeReport>>;
}

const RUNS = 6;

/** @param skies - Likely, low, high. */
function replayed(runs: Runs, site: SiteSettings, skies: readonly DaySeries[]): Replayed {
  const { recorded, saved, tell } = runs;
  const record = createReplayRecord(site, recorded.stretch.fromMs);
  const [likely, low, high] = skies.map((sky, place) => {
    tell({ stage: "replaying", share: 0.4 + (0.6 * runs.count) / RUNS });
    runs.count += 1;
    return replay({
      site,
      days: [sky],
      step: stepFrom(saved),
      calendar: createLocalCalendar(site.timeZone),
      stepS: STEP_S,
      startFraction: socAtStart(recorded.day) ?? USUAL_START,
      mayBridge: true,
      plant: shedOf(site, recorded.day),
      onDecision: null,
      onStep: place === 0 ? record.add : null,
    });
  });
  if (likely === undefined || low === undefined || high === undefined) {
    throw new TypeError("three skies, three reports");
  }
  return { day: record.day(likely), reports: { low, likely, high } };
}

function more(asSet: Replayed, other: Replayed, key: "divertedWh" | "curtailedWh"): Guesses {
  const of = (guess: keyof Guesses): number =>
    other.reports[guess].totals[key] - asSet.reports[guess].totals[key];
  const all = [of("low"), of("likely"), of("high")];
  return roundFigures({ low: Math.min(...all), likely: of("likely"), high: Math.max(...all) });
}

function socAtStart({ columns }: DaySeries): number | null {
  const percent = firstKnown(columns.get("battery_soc_percent"));
  return percent === null ? null : percent / PERCENT;
}
