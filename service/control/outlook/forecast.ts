/**
 * What somebody else expects of the day, and how much that is worth here.
 *
 * A forecast is never believed as such: it only says which days of the site's own record are most
 * like the one to come. So it need not know how the arrays lie, a steady error of its does no harm,
 * and it can't promise more than the site has seen. Until its past says that it knows anything, it
 * counts for nothing.
 */
import type { Observation, Reading } from "../observation.ts";
import type { ClearDay, ClearDays } from "./clear-days.ts";
import type { SkyDay } from "./sky-record.ts";

/** What it said and what came, in days that know both. */
const DAYS_MIN = 12;
/** Explaining this share of the differences between days it counts for nothing, and in full. */
const SKILL_FROM = 0.1;
const SKILL_FULL = 0.4;
/** More than a clear sky can give is said in other units, or of another site. [1] */
export const FORECAST_MAX = 3;

/**
 * What is said of a day, against what a clear sky would give; null: nothing that counts.
 *
 * @param which - A forecast for tomorrow is one for today from midnight on, and gives way to a
 *   newer one. [1] 0…3
 */
export function forecastFraction(
  { forecast, wallMs }: Pick<Observation, "forecast" | "wallMs">,
  clearDays: ClearDays,
  which: "today" | "tomorrow",
): number | null {
  const { todayWh, tomorrowWh } = forecast;
  const isOfToday = (reading: Reading): boolean => wallMs - reading.ageMs >= clearDays.midnightMs;
  const tomorrowIsToday = tomorrowWh.quality === "fresh" && isOfToday(tomorrowWh);
  if (which === "tomorrow") return tomorrowIsToday ? shareOf(tomorrowWh, clearDays.tomorrow) : null;
  if (todayWh.quality === "fresh" && isOfToday(todayWh)) return shareOf(todayWh, clearDays.today);
  const isOfYesterday = tomorrowWh.quality === "fresh" && !isOfToday(tomorrowWh);
  return isOfYesterday ? shareOf(tomorrowWh, clearDays.today) : null;
}

function shareOf({ value }: Reading, { partWh }: ClearDay): number | null {
  let clearWh = 0;
  for (const energyWh of partWh) clearWh += energyWh;
  if (clearWh <= 0) return null;
  return Math.min(FORECAST_MAX, Math.max(0, value / clearWh));
}

export interface ForecastSkill {
  /** Days that know what was said and what came. */
  readonly days: number;
  /** Of the differences between days it explains this share; null: too few days. [1] 0…1 */
  readonly explained: number | null;
  /** What it counts for. [1] 0…1 */
  readonly belief: number;
}

/**
 * Its past skill: the squared correlation of what was said with what came, less what as few days
 * show by chance. Saying the opposite of what comes is no skill.
 *
 * @param cameOf - How clear a day of the record was in all; null: not known.
 */
export function forecastSkill(
  days: readonly SkyDay[],
  cameOf: (day: SkyDay) => number | null,
): ForecastSkill {
  let count = 0;
  let [saidMean, cameMean, saidSquares, cameSquares, products] = [0, 0, 0, 0, 0];
  for (const day of days) {
    const came = day.forecast === null ? null : cameOf(day);
    if (day.forecast === null || came === null) continue;
    count += 1;
    const said = day.forecast - saidMean;
    const off = came - cameMean;
    saidMean += said / count;
    cameMean += off / count;
    saidSquares += said * (day.forecast - saidMean);
    cameSquares += off * (came - cameMean);
    products += said * (came - cameMean);
  }
  if (count < DAYS_MIN) return { days: count, explained: null, belief: 0 };
  const explained = explainedBy(products, saidSquares * cameSquares, count);
  const belief = (explained - SKILL_FROM) / (SKILL_FULL - SKILL_FROM);
  return { days: count, explained, belief: Math.min(1, Math.max(0, belief)) };
}

/** R² less its expectation without any skill: 1 − (1 − R²)·(n − 1)/(n − 2), "adjusted R²". */
function explainedBy(products: number, squares: number, count: number): number {
  if (products <= 0 || squares <= 0) return 0;
  const share = (products * products) / squares;
  return Math.max(0, 1 - ((1 - share) * (count - 1)) / (count - 2));
}
