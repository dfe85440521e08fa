import { invariant } from "./invariant.ts";

/**
 * The item at `index` of a list that must have it.
 *
 * @throws InvariantError otherwise: `step` has compared the lists' lengths before.
 */
export function itemAt<T>(list: readonly T[], index: number): T {
  const item = list[index];
  invariant(item !== undefined, "the list must have this place");
  return item;
}
