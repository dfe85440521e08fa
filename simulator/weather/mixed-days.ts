import type { DaySeries } from "../days/day-file.ts";
import { SKY_KINDS } from "./cloud.ts";
import type { SkyKind } from "./cloud.ts";
import { createRandom } from "./random.ts";
import { syntheticDays } from "./synthetic-day.ts";
import type { SyntheticDayOptions } from "./synthetic-day.ts";

/** A sky of one kind for all days, or `mixed`: each day's kind is drawn. */
export const SEASON_KINDS = [...SKY_KINDS, "mixed"] as const;
export type SeasonKind = (typeof SEASON_KINDS)[number];

/**
 * So many made-up days. Mixed skies are drawn day by day, each kind as often as the others; real
 * weather comes in spells, which this leaves out.
 */
export function* madeUpDays(
  first: Omit<SyntheticDayOptions, "kind">,
  sky: SeasonKind,
  count: number,
): Generator<DaySeries> {
  const random = createRandom(first.seed);
  const source = `made up: ${sky} sky, seed ${String(first.seed)}`;
  const endless = new Map(
    SKY_KINDS.map((kind) => [kind, syntheticDays({ ...first, kind })] as const),
  );
  for (let day = 0; day < count; day += 1) {
    const drawn = SKY_KINDS[Math.floor(random.between(0, SKY_KINDS.length))];
    const kind: SkyKind = sky === "mixed" ? (drawn ?? "broken") : sky;
    for (const [each, days] of endless) {
      if (sky !== "mixed" && each !== kind) continue;
      const next = days.next();
      if (each === kind && next.done !== true) yield { ...next.value, source };
    }
  }
}
