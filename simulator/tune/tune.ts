/**
 * Looks for better settings on recorded days: tries combinations on the first three quarters of
 * them, and shows on the rest, which it has not looked at, whether the gain was an accident.
 */
import type { SiteSettings } from "../../config/site-settings.ts";
import { UserError } from "../../service/errors.ts";
import type { DaySeries } from "../days/day-file.ts";
import type { OutcomeReport } from "../outcome.ts";
import { roundFigures } from "../rounding.ts";
import { figuresOf, frontOf } from "./front.ts";
import type { Figures } from "./front.ts";
import type { Combination } from "./combinations.ts";

export interface TuneOptions {
  readonly now: SiteSettings;
  readonly candidates: readonly Candidate[];
  /** Local days, each in pieces. */
  readonly days: readonly (readonly DaySeries[])[];
  /** Replays all sites on the same days. */
  readonly runAll: (
    sites: readonly SiteSettings[],
    days: readonly DaySeries[],
  ) => Promise<readonly OutcomeReport[]>;
}

export interface Candidate {
  readonly set: Combination;
  readonly site: SiteSettings;
}

export interface Tuned {
  readonly daysTuned: number;
  readonly daysHeldOut: number;
  readonly tried: number;
  readonly now: TunedFigures;
  /** The most useful first. */
  readonly front: readonly (TunedFigures & { readonly set: Combination })[];
  /** Place in the front of what draws no more from the reserve than now; null: stay as it is. */
  readonly chosen: number | null;
}

export interface TunedFigures {
  readonly tuned: Figures;
  readonly heldOut: Figures;
}

const HELD_OUT_SHARE = 0.25;
const FRONT_MAX = 8;

/** @throws UserError if there are too few days to hold some out. */
export async function tune(options: TuneOptions): Promise<Tuned> {
  const { now, candidates, days, runAll } = options;
  const heldOut = Math.max(1, Math.floor(days.length * HELD_OUT_SHARE));
  if (days.length < 2) throw tooFewDays(days.length);
  const [forTuning, forShow] = [days.slice(0, -heldOut), days.slice(-heldOut)];
  const [before, ...after] = await runAll(
    [now, ...candidates.map(({ site }) => site)],
    forTuning.flat(),
  );
  if (before === undefined) throw new TypeError("a report for each of the settings");
  const figures = after.map(figuresOf);
  const places = frontOf(figures, figuresOf(before)).slice(0, FRONT_MAX);
  const kept = places.flatMap((place) => {
    const candidate = candidates[place];
    const tuned = figures[place];
    return candidate === undefined || tuned === undefined ? [] : [{ ...candidate, tuned }];
  });
  const shown = await runAll([now, ...kept.map(({ site }) => site)], forShow.flat());
  const [beforeShown, ...afterShown] = shown.map(figuresOf);
  if (beforeShown === undefined) throw new TypeError("a report for each of the settings");
  const nowFigures = { tuned: figuresOf(before), heldOut: beforeShown };
  const front = kept.map(({ set, tuned }, i) => ({
    set,
    tuned,
    heldOut: afterShown[i] ?? beforeShown,
  }));
  return roundFigures({
    daysTuned: forTuning.length,
    daysHeldOut: forShow.length,
    tried: candidates.length,
    now: nowFigures,
    front,
    chosen: choose(front, nowFigures),
  });
}

/** Better than now on the days that it was tuned on and on those that it was not. */
function choose(front: readonly TunedFigures[], now: TunedFigures): number | null {
  const place = front.findIndex(({ tuned, heldOut }) =>
    [[tuned, now.tuned] as const, [heldOut, now.heldOut] as const].every(
      ([then, today]) =>
        then.usefulDivertedWh > today.usefulDivertedWh &&
        then.reserveDrawnWh <= today.reserveDrawnWh &&
        then.misses <= today.misses,
    ),
  );
  return place < 0 ? null : place;
}

function tooFewDays(count: number): UserError {
  const found = count === 1 ? "1 day" : `${String(count)} days`;
  const expected = "two days or more: a quarter of them is held out";
  return new UserError([{ code: "tune-days", where: "tune", found, expected }]);
}
