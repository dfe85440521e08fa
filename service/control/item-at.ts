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

/**
 * The same for numbers. A function of its own because engines keep lists of numbers in another way
 * than lists of objects: one function that sees every kind would look up the kind at each call.
 *
 * @throws InvariantError if the list has no such place.
 */
export function numberAt(list: readonly number[], index: number): number {
  const item = list[index];
  invariant(item !== undefined, "the list must have this number");
  return item;
}

/**
 * The same for small whole numbers, such as stages and counts, which engines keep in a form of
 * their own: read where other numbers are, each list would be made over at its first reading.
 *
 * @throws InvariantError if the list has no such place.
 */
export function countAt(list: readonly number[], index: number): number {
  const item = list[index];
  invariant(item !== undefined, "the list must have this count");
  return item;
}

/**
 * The same for numbers of which some are missing, which engines keep in yet another way.
 *
 * @throws InvariantError if the list has no such place.
 */
export function numberOrNullAt(list: readonly (number | null)[], index: number): number | null {
  const item = list[index];
  invariant(item !== undefined, "the list must have this number, or null for it");
  return item;
}

/** A copy with another number in one place; by `map` or `with` it would be kept in another form. */
export function withNumber(list: readonly number[], index: number, value: number): number[] {
  const copy = list.slice();
  copy[index] = value;
  return copy;
}

/** The same for numbers of which some are missing. */
export function withNumberOrNull(
  list: readonly (number | null)[],
  index: number,
  value: number,
): (number | null)[] {
  const copy = list.slice();
  copy[index] = value;
  return copy;
}
