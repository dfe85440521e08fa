/**
 * The best that any controller could have done with these days, this shed and perfect foresight:
 * a linear programme in steps of a quarter of an hour, so that whatever keeps the reserve is below
 * it, and it is out of reach by as little as may be.
 */
import type { LocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { UserError } from "../../service/errors.ts";
import type { DaySeries } from "../days/day-file.ts";
import { plantSettings } from "../plant/plant-settings.ts";
import type { PlantSettings } from "../plant/plant-settings.ts";
import { batteryCurve } from "./battery-curve.ts";
import type { BatteryCurve } from "./battery-curve.ts";
import type { BoundStep } from "./bound-step.ts";
import { buildProgramme } from "./build-programme.ts";
import type { BoundProgramme } from "./build-programme.ts";
import { collectSteps } from "./collect-steps.ts";
import { lowestCharge } from "./lowest-charge.ts";
import type { Programme } from "./programme.ts";
import { highestSetPointV } from "./set-point.ts";
import type { Solution } from "./solve.ts";

export interface BoundOptions {
  readonly site: SiteSettings;
  readonly days: Iterable<DaySeries>;
  readonly calendar: LocalCalendar;
  /** Of the replay that is compared. [s] 1…60 */
  readonly stepS: number;
  /** [1] 0…1 */
  readonly startFraction: number;
  readonly mayBridge: boolean;
  /** null: the shed that belongs to the site's settings. */
  readonly plant: PlantSettings | null;
  /** Of the programme. [min]; 15 where absent. */
  readonly quarterMin?: number;
}

export interface Bound {
  readonly usefulDivertedWh: number;
  /** By how much the solver may be short of the programme's own best. [Wh] */
  readonly gapWh: number;
  readonly status: "optimal";
  /** Sunsets under the target that nobody could have avoided. */
  readonly sunsetMisses: number;
  /** By the load's id. [Wh] */
  readonly loads: Readonly<Record<string, number>>;
  readonly perDay: readonly BoundDay[];
}

export interface BoundDay {
  /** Local date. */
  readonly date: string;
  readonly usefulDivertedWh: number;
}

export type Solver = (programme: Programme) => Promise<Solution>;

const DAY_MS = 86_400_000;
const QUARTER_MIN = 15;

/** @throws UserError if a day cannot be replayed, or nothing keeps the reserve. */
export async function computeBound(options: BoundOptions, solver: Solver): Promise<Bound> {
  const { site, startFraction, stepS } = options;
  const plant = options.plant ?? plantSettings(site);
  const quarterMin = options.quarterMin ?? QUARTER_MIN;
  const { steps, sunsetMisses, coldestC } = collectSteps({ ...options, plant, quarterMin });
  const curve = curveOf(plant, steps, coldestC);
  const lowest = lowestCharge(steps, site.control.battery, curve);
  const built = buildProgramme({ site, plant, steps, curve, lowest, startFraction, stepS });
  const solution = await solver(built.programme);
  if (solution.status !== "optimal") throw notSolved(solution.status);
  return { ...amounts(site, steps, { built, solution }), sunsetMisses };
}

function curveOf(
  plant: PlantSettings,
  steps: readonly BoundStep[],
  coldestC: number,
): BatteryCurve {
  return batteryCurve(plant.battery, {
    setPointV: highestSetPointV(plant, coldestC),
    sourcesW: steps.reduce((most, { netW }) => Math.max(most, netW), 1),
  });
}

function amounts(
  site: SiteSettings,
  steps: readonly BoundStep[],
  { built, solution }: { readonly built: BoundProgramme; readonly solution: Solution },
): Omit<Bound, "sunsetMisses"> {
  const days = new Map<number, number>();
  const loads: Record<string, number> = {};
  for (const [i, load] of site.control.loads.entries()) {
    let sumWh = 0;
    for (const [t, { localDay }] of steps.entries()) {
      const entry = built.useful[i]?.[t] ?? null;
      const usedWh = entry === null ? 0 : (solution.columns[entry[0]] ?? 0) * entry[1];
      days.set(localDay, (days.get(localDay) ?? 0) + usedWh);
      sumWh += usedWh;
    }
    loads[load.id] = sumWh;
  }
  return {
    usefulDivertedWh: solution.worth,
    gapWh: solution.gap,
    status: "optimal",
    loads,
    perDay: [...days].map(([day, usefulDivertedWh]) => ({
      date: new Date(day * DAY_MS).toISOString().slice(0, 10),
      usefulDivertedWh,
    })),
  };
}

function notSolved(status: "infeasible" | "unsolved"): UserError {
  const isInfeasible = status === "infeasible";
  return new UserError([
    {
      code: isInfeasible ? "bound-infeasible" : "bound-unsolved",
      where: "bound",
      found: isInfeasible
        ? "no way to run anything, or nothing, keeps the reserve on these days"
        : "the solver gave up before it knew the best",
      expected: "days on which the shed without these loads can live",
      suggestion: "fewer days, or another --start-soc",
    },
  ]);
}
