import { createRandom } from "../weather/random.ts";
import type { Varied } from "./vary.ts";

/** One value for each key, as `--set` takes them. */
export type Combination = readonly string[];

/** All combinations, or so many of them drawn by chance: the same for the same seed. */
export function combinations(
  varied: readonly Varied[],
  limits: { readonly most: number; readonly seed: number },
): readonly Combination[] {
  const count = varied.reduce((product, { values }) => product * values.length, 1);
  if (count <= limits.most) return Array.from({ length: count }, (_, i) => combination(varied, i));
  const random = createRandom(limits.seed);
  const drawn = new Set<number>();
  while (drawn.size < limits.most) drawn.add(Math.floor(random.uniform() * count));
  return [...drawn].sort((one, other) => one - other).map((i) => combination(varied, i));
}

function combination(varied: readonly Varied[], place: number): Combination {
  let rest = place;
  return varied.map(({ key, values }) => {
    const value = values[rest % values.length] ?? "";
    rest = Math.floor(rest / values.length);
    return `${key}=${value}`;
  });
}
